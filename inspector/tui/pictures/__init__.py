"""Pictures of frames in the terminal: scenes, cells, and the frames that are read for them."""
