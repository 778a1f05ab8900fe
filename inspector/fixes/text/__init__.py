"""Fixes of the text of the frame files."""
