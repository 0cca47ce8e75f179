"""Curves, strokes, rings and paints into regions."""
