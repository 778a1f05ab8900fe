"""Fixes for UVs."""
