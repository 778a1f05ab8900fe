"""The commands, one file per command. Each file defines COMMAND, and imports heavy modules inside `run`, so that --help
is quick."""
