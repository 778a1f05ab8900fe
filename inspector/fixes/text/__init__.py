"""Fixes for the text of the frame files."""
