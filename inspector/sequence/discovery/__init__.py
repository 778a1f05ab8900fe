"""Find the sequences of a folder: files, frame numbers, and the folders that may be read."""
