"""Measures of openings, strokes and lands, whichever way the opening is made."""

from __future__ import annotations

from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.mask import (
    LocalWidths,
    Mask,
    Narrowest,
    count_holes,
    local_widths,
    narrowest,
    open_by_disc,
    parts_of,
)
from stopout.planning.plan import MaskNumbers

# What the arithmetic leaves along a hole's rim is thinner than this, and no land.
_SLIVER_MM = 0.002
# Chords a quarter circle: of a radius of 1 um they stand off by 0.02 um.
_CHORDS = 4


def thinnest_opening(
    mask: Mask, measured: MaskNumbers, stroke_mm: float, undercut: float, mark: tuple[float, float]
) -> float:
    """Return how wide the thinnest stroke that is made is opened.

    A line into a corner is the narrowest opening without being a stroke, so this goes by the
    strokes as drawn: one is opened less the undercut on both edges, and no narrower than the mark.
    """
    if any(place.expected_mm == 0 for place in mask.thin_places):
        return measured.narrowest_opening_mm
    return max(stroke_mm - 2 * undercut, min(mark))


def measure_opening(opening: MultiPolygon, face: BaseGeometry, mark_mm: float) -> MaskNumbers:
    """Measure an opening; no narrower place than the mark is looked for."""
    parts, land = parts_of(opening), land_left(face, opening, 2 * mark_mm)
    return MaskNumbers(
        openings=len(parts),
        holes=count_holes(parts),
        area_mm2=float(opening.area),
        edge_mm=float(opening.length),
        narrowest_opening_mm=narrowest(opening, start_mm=0.98 * mark_mm).width_mm,
        narrowest_land_mm=land.width_mm,
        narrowest_land_at=land.at_mm,
    )


def drawn_widths(
    target: MultiPolygon, face: BaseGeometry, reach: float
) -> tuple[tuple[LocalWidths, LocalWidths], float]:
    """Return the local widths as drawn, and the narrowest stroke."""
    stroke = narrowest(target, start_mm=2 * reach, leave_out_points=True).width_mm
    return local_widths(target, face), stroke


def land_left(face: BaseGeometry, removed: BaseGeometry, start_mm: float) -> Narrowest:
    """Return the narrowest place of what stays of the face; width 0 where nothing stays."""
    return narrowest(stays_of(face, removed), start_mm=max(start_mm, 0.05))


def stays_of(face: BaseGeometry, removed: BaseGeometry) -> MultiPolygon:
    """Return what stays of the face, without what is too thin to be a land."""
    return open_by_disc(face.difference(removed), _SLIVER_MM / 2, chords=_CHORDS)
