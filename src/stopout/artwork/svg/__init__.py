"""SVG documents: made safe, normalised, read."""
