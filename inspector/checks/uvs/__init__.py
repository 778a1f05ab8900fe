"""Checks of UV indices, coordinates and layout."""
