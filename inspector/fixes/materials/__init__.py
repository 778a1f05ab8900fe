"""Fixes of material libraries, materials and textures."""
