"""Meshes and sequences with one defect each, grouped by what is wrong."""
