"""Fixes for material libraries, materials and textures."""
