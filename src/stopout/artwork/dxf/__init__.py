"""DXF drawings: what is drawn in them as areas, whatever the pens' colours are."""

from stopout.artwork.dxf.reading import read_dxf

__all__ = ["read_dxf"]
