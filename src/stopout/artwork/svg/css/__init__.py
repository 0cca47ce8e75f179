"""Style sheets of an SVG file: which rule wins, and what it says."""
