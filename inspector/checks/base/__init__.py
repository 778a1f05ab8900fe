"""What a check is, the context it sees, the registry and the runner."""
