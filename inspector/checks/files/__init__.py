"""Checks of frame files: names, frame numbers, formats, completeness and writing times."""
