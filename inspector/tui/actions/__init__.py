"""What the app does, one file for each idea; each answers the messages that concern it."""
