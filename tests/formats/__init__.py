"""The reader against documents, libraries and what was seen in public files."""
