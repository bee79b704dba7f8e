"""Readings from the vehicle through open standards: a second witness that only reads."""
