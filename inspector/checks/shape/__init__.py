"""Checks of the shape of single faces."""
