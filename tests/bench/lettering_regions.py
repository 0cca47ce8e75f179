"""Lettering as regions in mm, from the outlines of the Barlow typeface (SIL Open Font License)."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import fontpkg_barlow
import numpy as np
import shapely
import uharfbuzz as hb
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon

# How far chords may stand off the font's curves.
CHORD_MM = 0.0005
# Barlow's capitals are 0.7 em high.
CAPITAL = 0.7


@cache
def font(weight):
    path = Path(fontpkg_barlow.__file__).parent / "files" / f"Barlow-{weight}.ttf"
    return hb.Font(hb.Face(path.read_bytes()))


@cache
def contours(glyph, weight):
    """A glyph's contours: start points and segments of two or three points, in font units."""
    found, pen = [], hb.DrawFuncs()
    pen.set_move_to_func(lambda x, y, _: found.append([[(x, y)]]))
    pen.set_line_to_func(lambda x, y, _: found[-1].append([(x, y)]))
    pen.set_quadratic_to_func(lambda ax, ay, x, y, _: found[-1].append([(ax, ay), (x, y)]))
    pen.set_close_path_func(lambda _: None)
    font(weight).draw_glyph(glyph, pen, None)
    return found


def flattened(contour, scale):
    """Chords of a contour: sqrt(|second difference| / (4 chord)) of them for a quadratic curve."""
    points = [contour[0][0]]
    for segment in contour[1:]:
        if len(segment) == 1:
            points.append(segment[0])
            continue
        p0, p1, p2 = (np.array(p) for p in (points[-1], *segment))
        bend = float(np.hypot(*(p0 - 2 * p1 + p2))) * scale
        n = max(1, math.ceil(math.sqrt(bend / (4 * CHORD_MM))))
        for t in np.arange(1, n + 1) / n:
            points.append(tuple((1 - t) ** 2 * p0 + 2 * t * (1 - t) * p1 + t * t * p2))
    return points


def lettering(text, *, capital_mm, weight="Medium", at=(0.0, 0.0)):
    """A line of text as a region; `capital_mm` is the height of its capitals."""
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    hb.shape(font(weight), buffer, {"kern": True})
    unit = capital_mm / CAPITAL / font(weight).face.upem
    pen, parts = 0.0, []
    for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        rings = [Polygon(flattened(c, unit)) for c in contours(info.codepoint, weight)]
        region = Polygon()
        for ring in rings:
            region = region.symmetric_difference(ring.buffer(0))
        if not region.is_empty:
            parts.append(affinity.translate(region, pen, 0))
        pen += place.x_advance
    laid = affinity.scale(shapely.union_all(parts), unit, unit, origin=(0, 0))
    laid = affinity.translate(laid, *at)
    polygons = [part for part in shapely.get_parts(laid) if part.geom_type == "Polygon"]
    return MultiPolygon(polygons)
