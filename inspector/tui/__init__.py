"""The terminal UI."""
