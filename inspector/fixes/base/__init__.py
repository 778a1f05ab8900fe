"""What a fix is, what it works on, and the registry."""
