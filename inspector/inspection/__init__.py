"""The use case that both interfaces call: it takes a folder, and returns everything that the tool can report about
it."""
