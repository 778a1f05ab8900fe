"""Fixes for which frames and objects are delivered, and for frame numbers and the frame rate."""
