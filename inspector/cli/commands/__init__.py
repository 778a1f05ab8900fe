"""The commands, one file per command. Each file imports slow modules only in `run`, so that --help is quick."""
