"""Drawings, maps, sketches and signs on the sheet."""
