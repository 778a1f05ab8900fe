"""Helpers that several modules of tests share."""
