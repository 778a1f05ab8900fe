"""The checks, one file each; base/ holds the code that they share."""
