"""Read and write mesh files of all formats."""
