"""Text of an SVG file into outlines."""
