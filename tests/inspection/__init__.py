"""The use case that both interfaces call."""
