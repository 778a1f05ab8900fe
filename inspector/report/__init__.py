"""Write results in text, JSON and other report formats."""
