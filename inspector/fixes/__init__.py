"""The fixes, one file each; base/ holds the code that they share."""
