"""One file a check: silent on a healthy shot, and one thing broken at a time."""
