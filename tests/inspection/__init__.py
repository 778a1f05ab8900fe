"""Tests of the inspection of a folder."""
