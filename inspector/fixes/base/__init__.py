"""The definition of a fix, the data that it works on, and the registry."""
