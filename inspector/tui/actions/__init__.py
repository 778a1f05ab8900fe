"""The actions of the app, one file per topic. Each file also handles the messages on its topic."""
