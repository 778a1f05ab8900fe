"""The checks. Each is a module, or a row in a table of similar checks. base/ holds the code that they share."""
