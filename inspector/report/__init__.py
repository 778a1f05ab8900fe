"""Results as text and JSON."""
