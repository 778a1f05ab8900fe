"""Checks of scale, up axis, distance from the origin and precision."""
