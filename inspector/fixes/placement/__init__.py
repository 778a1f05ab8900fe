"""Fixes for scale, up axis, position and handedness."""
