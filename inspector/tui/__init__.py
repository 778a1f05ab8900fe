"""The keyboard face."""
