"""Wavefront OBJ and MTL: read bytes as blocks and arrays, and write them again."""
