"""Wavefront OBJ and MTL: bytes to blocks, blocks to arrays, and back."""
