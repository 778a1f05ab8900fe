"""Checks of normals."""
