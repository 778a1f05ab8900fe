"""Fixes of scale, up axis, position and handedness."""
