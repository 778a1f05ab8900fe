"""The fixes. Each is a module. base/ holds the code that they share."""
