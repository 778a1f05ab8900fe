"""Fixes of the frames as files: which there are, their numbers and their rate."""
