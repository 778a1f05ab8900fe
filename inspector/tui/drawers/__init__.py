"""Questions asked in the lowest rows of the screen."""
