"""Geometry of one frame: triangles, metric, normals, UV islands, connected components, coverage, visibility."""
