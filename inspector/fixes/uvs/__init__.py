"""Fixes of UVs."""
