"""Write results as text, JSON and other report formats."""
