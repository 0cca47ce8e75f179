"""The artwork room: a file's bytes become regions in mm, as seen on the blank."""

from stopout.artwork.reading import open_artwork, open_outline, read_artwork

__all__ = ["open_artwork", "open_outline", "read_artwork"]
