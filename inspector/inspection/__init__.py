"""The use case that both interfaces call: inspect a folder, and return everything that can be reported about it."""
