"""Builders shared by all tests: small meshes, OBJ text, sequences in a folder, and what an inspection says of them."""
