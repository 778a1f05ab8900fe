"""Sequences that nobody here made, read by hand: see test_sequences.py."""
