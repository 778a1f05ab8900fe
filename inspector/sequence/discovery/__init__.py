"""Find the sequences in a folder, from its files and their frame numbers, without leaving the folders that may be
read."""
