"""The definition of a check, its input, the registry, the runner, and the code that is shared by the checks."""
