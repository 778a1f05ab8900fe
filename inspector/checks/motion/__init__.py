"""Checks of the motion over time."""
