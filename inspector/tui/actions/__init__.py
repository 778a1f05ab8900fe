"""The actions of the app, one module per topic. Each module also handles the messages on its topic."""
