"""Strokes as outlines: width, caps, joins, mitre limit and dashes as SVG defines them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from stopout.artwork.regions.curves import Affine, ComplexArray, RunPen, Subpath, flatten

# The stroking library computes in 32 bit floats and holds curves to a quarter of its unit: a unit
# of 0.4 um leaves errors near 0.1 um and keeps 0.06 um of resolution 1 m from the origin.
_UNIT_MM = 4e-4
_MOST_UNITS = 2**21
_LONG = 5000


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A stroke's properties, lengths in the user unit of its path (SVG 2, section 13.5)."""

    width: float
    cap: Literal["butt", "round", "square"] = "butt"
    join: Literal["miter", "round", "bevel"] = "miter"
    miter_limit: float = 4.0
    dashes: tuple[float, ...] = ()
    dash_offset: float = 0.0


def stroke_rings(
    subpaths: Sequence[Subpath], stroke: Stroke, to_page: Affine, *, tolerance_mm: float
) -> list[ComplexArray]:
    """Outline a stroke.

    Parameters
    ----------
    subpaths : sequence of Subpath
        In user units, before `to_page`.
    to_page : Affine
        From user units to mm of the page; the stroke is made before it, as SVG asks.

    Returns
    -------
    list of (n,) ndarray of complex
        Rings in mm of the page, to be filled by the nonzero rule.
    """
    import pathops

    stretch = to_page.stretch
    if stretch == 0.0 or stroke.width <= 0.0:
        return []
    path = pathops.Path()
    # Large coordinates would eat the float's digits: the path goes near the origin first, and one
    # that reaches metres is told in larger units.
    nodes = np.concatenate([sub.nodes for sub in subpaths])
    origin = complex(np.mean(nodes))
    unit_mm = max(_UNIT_MM, float(np.max(np.abs(nodes - origin))) * stretch / _MOST_UNITS)
    up = stretch / unit_mm
    for subpath in subpaths:
        _draw(path, subpath, origin, up)
    caps = {
        "butt": pathops.LineCap.BUTT_CAP,
        "round": pathops.LineCap.ROUND_CAP,
        "square": pathops.LineCap.SQUARE_CAP,
    }
    joins = {
        "miter": pathops.LineJoin.MITER_JOIN,
        "round": pathops.LineJoin.ROUND_JOIN,
        "bevel": pathops.LineJoin.BEVEL_JOIN,
    }
    dashes = _even(stroke.dashes)
    path.stroke(
        stroke.width * up,
        caps[stroke.cap],
        joins[stroke.join],
        stroke.miter_limit,
        [dash * up for dash in dashes] or None,
        stroke.dash_offset * up,
    )
    back = to_page @ Affine(1 / up, 0.0, 0.0, 1 / up, origin.real, origin.imag)
    rings = [flatten(sub.through(back), tolerance=tolerance_mm) for sub in _read(path)]
    return [_thinned(ring, max(tolerance_mm / 4, unit_mm / 2)) for ring in rings]


def _thinned(ring: ComplexArray, tolerance_mm: float) -> ComplexArray:
    """Drop the points of a long ring that the stroking library sets closer than anybody asked."""
    if len(ring) < _LONG:
        return ring
    line = shapely.linestrings(np.column_stack([ring.real, ring.imag]))
    x, y = shapely.get_coordinates(shapely.simplify(line, tolerance_mm)).T
    return np.asarray(x + 1j * y)


def _even(dashes: tuple[float, ...]) -> tuple[float, ...]:
    if not dashes or sum(dashes) <= 0.0:
        return ()
    # SVG 2, section 13.5.6: a list of odd length is repeated to make it even.
    return dashes if len(dashes) % 2 == 0 else dashes + dashes


def _draw(path: object, subpath: Subpath, origin: complex, up: float) -> None:
    nodes = (subpath.nodes - origin) * up
    handles = (subpath.handles - origin) * up
    put = path
    put.moveTo(nodes[0].real, nodes[0].imag)  # type: ignore[attr-defined]
    for end, (first, second) in zip(nodes[1:], handles, strict=True):
        if np.isnan(first.real):
            put.lineTo(end.real, end.imag)  # type: ignore[attr-defined]
        else:
            put.cubicTo(  # type: ignore[attr-defined]
                first.real, first.imag, second.real, second.imag, end.real, end.imag
            )
    if subpath.is_closed:
        put.close()  # type: ignore[attr-defined]


def _read(path: object) -> list[Subpath]:
    """Read the library's path back, conics (arcs of caps and joins) as fine quadratics."""
    import pathops

    path.convertConicsToQuads(0.25)  # type: ignore[attr-defined]
    pen = RunPen()
    for verb, pairs in path:  # type: ignore[attr-defined]
        points = [complex(x, y) for x, y in pairs]
        if verb == pathops.PathVerb.MOVE:
            pen.move(points[0])
        elif verb == pathops.PathVerb.LINE:
            pen.line(points[0])
        elif verb == pathops.PathVerb.QUAD:
            pen.quad(*points)
        elif verb == pathops.PathVerb.CUBIC:
            pen.curve(*points)
    pen.end()
    return pen.runs
