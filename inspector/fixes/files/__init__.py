"""Fixes of the frames as files: their existence, their numbers and their rate."""
