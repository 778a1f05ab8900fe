"""Make a plan from the chosen fixes, and deliver it as a corrected and verified folder."""
