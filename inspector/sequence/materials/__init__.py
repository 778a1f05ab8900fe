"""The files that material libraries and texture maps lead to."""
