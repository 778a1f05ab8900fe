"""From a frame to its measured facts."""
