"""Tests of defects that are planted into healthy bodies."""
