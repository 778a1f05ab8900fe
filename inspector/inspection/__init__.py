"""Inspect a folder, judge frames while they arrive, and compare two exports. Every interface uses this package."""
