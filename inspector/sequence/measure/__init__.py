"""Measure the facts of a frame."""
