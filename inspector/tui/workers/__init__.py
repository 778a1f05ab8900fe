"""Work done in threads, and the messages it posts."""
