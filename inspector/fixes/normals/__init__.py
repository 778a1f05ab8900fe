"""Fixes of normals."""
