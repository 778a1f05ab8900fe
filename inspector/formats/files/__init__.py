"""One module per format of mesh files. Each module defines FORMATS, which the registry collects."""
