"""Plan, apply, write, verify: from chosen fixes to a proven corrected folder."""
