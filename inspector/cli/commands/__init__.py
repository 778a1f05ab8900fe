"""One file per command, which defines COMMAND. Heavy imports are inside `run`, so that --help is quick."""
