"""From a folder to measured sequences: discovery, materials, facts of each frame, series over time."""
