"""From a folder to its sequences: files, numbers, and the folders that may be read."""
