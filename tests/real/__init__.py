"""Tests with sequences from outside the project. They are run by hand: see test_sequences.py."""
