"""Pictures of frames in the terminal: scenes, cells, and the frames read for them."""
