"""Tests of the readers. The expected results come from format descriptions, libraries, and observations of public
files."""
