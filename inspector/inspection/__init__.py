"""The use case that both interfaces call: a folder in, everything the tool can say about it out."""
