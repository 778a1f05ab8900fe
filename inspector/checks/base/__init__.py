"""The definition of a check, its input, the registry and the runner."""
