"""The checks, in one folder per group. The folder base/ contains the code that several checks use."""
