"""The definition of a fix, the data that fixes work on, and the registry."""
