"""Work done in threads, and the messages that the threads post."""
