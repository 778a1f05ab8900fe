"""Inspect a folder, judge frames as they arrive, and compare two exports. Every interface uses this package."""
