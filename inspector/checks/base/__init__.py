"""The definition of a check, the context it sees, the registry and the runner."""
