"""What material libraries and texture maps lead to."""
