"""Find the sequences of a folder and measure them: discovery, materials, facts of each frame, and series over time."""
