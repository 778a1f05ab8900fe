"""Fixes that choose which frames and objects are delivered, or that change frame numbers or the frame rate."""
