"""Lines and outlines that fill an opening, and in which order."""
