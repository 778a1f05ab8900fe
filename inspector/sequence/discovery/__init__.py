"""Find the sequences in a folder: list its files, read their frame numbers, and stay in the folders that may be
read."""
