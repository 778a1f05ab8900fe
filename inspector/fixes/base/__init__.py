"""What a fix is, and the registry of all fixes."""
