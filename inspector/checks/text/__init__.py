"""Checks of the text that the frame files hold."""
