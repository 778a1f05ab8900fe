"""Work done in threads, and the messages that it posts."""
