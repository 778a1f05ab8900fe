"""The command line: results on stdout, messages on stderr."""
