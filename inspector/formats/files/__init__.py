"""One file a format of mesh files. Each defines FORMATS; the registry finds it."""
