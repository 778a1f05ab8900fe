"""Plan, apply, write, verify: from chosen fixes to a corrected and verified folder."""
