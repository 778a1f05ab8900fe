"""The screens of the terminal UI."""
