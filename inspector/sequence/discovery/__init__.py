"""From a folder to its sequences: files, numbers, and what may be read."""
