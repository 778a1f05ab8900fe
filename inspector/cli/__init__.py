"""The headless face: stdout is data, stderr is talk."""
