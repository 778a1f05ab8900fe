"""The commands, one file per command. Each file defines COMMAND, and imports slow modules only in `run`, so that --help
is quick."""
