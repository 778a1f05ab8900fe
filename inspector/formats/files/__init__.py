"""One module per format of mesh files. Each defines FORMATS; the registry finds it."""
