"""Paints on a terminal and reads its keys; everything else of the screen is lines."""
