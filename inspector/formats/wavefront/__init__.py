"""Wavefront OBJ and MTL: convert bytes to blocks and arrays, and blocks and arrays to bytes."""
