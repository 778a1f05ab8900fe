"""Checks of vertices, faces, edges and groups. Most checks compare each frame with the reference frame."""
