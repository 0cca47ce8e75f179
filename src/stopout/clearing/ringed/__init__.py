"""Openings cleared by rings, from the outline inwards, and the slivers between them."""
