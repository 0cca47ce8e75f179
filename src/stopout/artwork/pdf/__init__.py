"""PDF pages, read as paths or traced."""
