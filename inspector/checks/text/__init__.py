"""Checks of the text in frame files and material libraries."""
