"""Builders that all tests share: small meshes, OBJ text, sequences in a folder, and the findings about them."""
