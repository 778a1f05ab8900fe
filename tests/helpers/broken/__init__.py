"""Meshes and sequences broken in one thing, by what is wrong with them."""
