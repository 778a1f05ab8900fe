"""Find and read the material libraries of frames and the textures of materials."""
