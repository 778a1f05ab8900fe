"""Tests of the steps from files to facts, and from facts to a series."""
