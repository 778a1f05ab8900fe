"""The checks: each has its own module, or is a row in a module with a table. base/ holds the code that they share."""
