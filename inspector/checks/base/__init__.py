"""What a check is, the evidence it sees, the registry and the runner."""
