"""From arrays to pixels: cameras, rasterisation, textures, UV maps, charts, sheets and templates."""
