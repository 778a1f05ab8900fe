"""Checks of vertices, faces, edges and groups. Most of these checks compare each frame with the reference frame."""
