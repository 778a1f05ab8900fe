"""Fixes of vertices and faces."""
