"""From a folder to measured sequences: discovery, references, facts, series."""
