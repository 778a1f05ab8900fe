"""One module per mesh file format. Each module defines FORMATS, which the registry collects."""
