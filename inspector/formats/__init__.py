"""Mesh files: reading their bytes as frames, and writing frames as bytes."""
