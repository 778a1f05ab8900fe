"""Which files material libraries and texture maps lead to."""
