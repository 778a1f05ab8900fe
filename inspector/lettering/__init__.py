"""Texture fit, lettering boxes, captions, legibility and templates of a sequence."""
