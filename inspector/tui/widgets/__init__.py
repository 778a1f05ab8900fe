"""What screens are built of."""
