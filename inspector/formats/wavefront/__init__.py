"""Wavefront OBJ and MTL: reading bytes as blocks and arrays, and writing them."""
