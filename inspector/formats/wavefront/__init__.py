"""Wavefront OBJ and MTL: from bytes to blocks to arrays, and back."""
