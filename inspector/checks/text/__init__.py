"""Checks of the text in frame files."""
