"""Checks of the motion over the frames."""
