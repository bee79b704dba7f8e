"""Which program is at work; it stands on every journal line."""

PROGRAM = "steplatch 0.1.0"
