"""Tests of sequences from outside the project, run by hand: see test_sequences.py."""
