"""A file's picture as it was read, before it is placed on the blank."""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.painter import Paint
from stopout.artwork.regions.rings import EMPTY
from stopout.artwork.scale import Page
from stopout.artwork.svg.source import SourceElement
from stopout.values import DrawnGlyph, Finding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PixelPicture:
    """A file's picture in page mm (y down), before it is placed.

    `beyond` is what is dark outside the page, whose edge cuts it off; `glyphs` are the
    letters of live text.
    `shown` is an SVG's safe document before it was normalised, for renderings; empty where the
    renderer would draw it otherwise. `edge_px` is how well a picture's edges are known, in pixels;
    `darkest` how far the darkest of its pixels goes from white to black.
    """

    page: Page
    mm_per_unit: float
    dark: BaseGeometry
    paints: tuple[Paint, ...] = ()
    origins: dict[str, SourceElement]
    findings: tuple[Finding, ...] = ()
    beyond: BaseGeometry = EMPTY
    glyphs: tuple[DrawnGlyph, ...] = ()
    shown: bytes = b""
    edge_px: float = 0.0
    darkest: float = 0.0
