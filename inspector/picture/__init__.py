"""Draw pictures: cameras, rasterisation, textures, UV maps, charts, sheets and templates."""
