"""Weeks to propose: horses cut into jobs, the world as the planner reads it, what a plan
changes, and why a barn is left over. Pure."""
