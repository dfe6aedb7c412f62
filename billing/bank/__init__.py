"""Bank statements read: one form of line from each format, and what a line pays."""
