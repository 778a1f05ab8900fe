"""Tests of defects that are planted in healthy bodies."""
