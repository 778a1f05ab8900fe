"""Checks of vertices, faces, edges and groups. Most of them compare each frame with the reference frame."""
