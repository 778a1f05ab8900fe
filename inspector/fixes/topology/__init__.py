"""Fixes for vertices and faces."""
