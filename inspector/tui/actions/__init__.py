"""The actions of the app, one file for each idea; each answers the messages that concern it."""
