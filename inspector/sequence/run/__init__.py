"""Measure many frames, in threads, in processes or on other machines, and keep the results in a cache."""
