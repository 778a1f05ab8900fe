"""The texture fit of a sequence, with its lettering boxes, captions, legibility and templates."""
