"""Checks of vertices, faces and edges against the reference frame."""
