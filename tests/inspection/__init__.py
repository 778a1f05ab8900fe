"""The inspection of a folder, which the terminal UI and the command line both use."""
