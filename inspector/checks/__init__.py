"""Checks: one file each; base/ holds what they share."""
