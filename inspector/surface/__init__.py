"""Geometry of one frame: triangles, metric, normals, UV islands, pieces, coverage, visibility."""
