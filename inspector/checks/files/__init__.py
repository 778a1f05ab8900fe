"""Checks of names, numbers, formats and times of the frame files."""
