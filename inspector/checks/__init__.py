"""The checks, in one folder per group; base/ contains the code that checks share."""
