"""Drives that somebody else knows: a road engine asked over HTTP, an uploaded map."""
