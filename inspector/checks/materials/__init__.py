"""Checks of material libraries, materials and textures."""
