"""Results as text, JSON and other report formats."""
