"""Checks of vertices, faces, edges and groups, most of which compare each frame with the reference frame."""
