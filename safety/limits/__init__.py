"""Worked limits: each a value, every line of its working, and where it comes from."""
