"""Fixes for normals."""
