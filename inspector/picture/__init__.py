"""From arrays to pixels: camera, rasteriser, texturing, UV maps, charts, sheets and templates."""
