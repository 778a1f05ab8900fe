"""Fit textures and lettering to a sequence: lettering boxes, captions, legibility and templates."""
