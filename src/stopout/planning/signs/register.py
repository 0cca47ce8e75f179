"""What the reader sees of a sign whose clearings miss each other.

The coats as they were really cleared are laid on each other again, each clearing moved by as much
as two of them may miss each other, and the front view is held against the artwork colour by
colour. This goes forwards and knows nothing of how the clearings were planned.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.planning.signs.grid import difference, intersection, on_grid
from stopout.planning.signs.shows import Method, effective, front_view

# Directions in which a clearing may be off.
_DIRECTIONS = 8
# What is thinner than this is left by the arithmetic.
_DUST_MM = 0.004
_QUARTER_CHORDS = 8
# How far an edge may stand off where clearings are moved about: arcs have far more vertices.
_THINNING_MM = 0.0002


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """The worst place where a wrong colour shows: a sliver's width, the coat seen, the place.

    `width_mm` is 0 where only the edges between neighbouring colours move; `moved` names the
    clearing that was moved and by how much in x and y.
    """

    width_mm: float = 0.0
    coat: int | None = None
    at_mm: tuple[float, float] | None = None
    moved: tuple[int, float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How much of the face shows the colour that the artwork has there."""

    share: float
    by_coat: tuple[float, ...]


def agreement(
    shown: Sequence[BaseGeometry], seen: Sequence[BaseGeometry], face: BaseGeometry
) -> Agreement:
    """Hold a front view against the artwork, by area.

    Parameters
    ----------
    shown : sequence of BaseGeometry
        What the reader is to see of each coat.
    seen : sequence of BaseGeometry
        What is seen of each.
    face : BaseGeometry
        The blank's face.

    Returns
    -------
    Agreement
        `by_coat` is 1 for a coat that is to show nowhere.
    """
    right = [a.intersection(b).area for a, b in zip(shown, seen, strict=True)]
    areas = [region.area for region in shown]
    return Agreement(
        share=sum(right) / face.area,
        by_coat=tuple(r / a if a > 0 else 1.0 for r, a in zip(right, areas, strict=True)),
    )


def moved_views(
    cleared: Sequence[BaseGeometry | None],
    *,
    face: BaseGeometry,
    method: Method,
    error_mm: float,
) -> list[tuple[tuple[int, float, float], list[BaseGeometry]]]:
    """Return the front view with each clearing after the first moved in eight directions.

    Parameters
    ----------
    cleared : sequence of BaseGeometry or None
        What was cleared after each coat, from the viewer backwards.
    face : BaseGeometry
        The blank's face.
    method : str
        "one-by-one" or "through".
    error_mm : float
        How far two clearings may miss each other.

    Returns
    -------
    list of ((coat, dx, dy), list of BaseGeometry)
        The move and what is then seen of each coat.
    """
    laid = [None if region is None else on_grid(_thinned(region)) for region in cleared]
    numbers = [k for k, region in enumerate(laid) if region is not None]
    views = []
    for k in numbers[1:]:
        # One by one, what is seen of the coats in front does not change.
        still = k if method == "one-by-one" else 0
        before, opened = _looked_through(face, laid[:still])
        for turn in range(_DIRECTIONS):
            angle = 2 * math.pi * turn / _DIRECTIONS
            dx, dy = error_mm * math.cos(angle), error_mm * math.sin(angle)
            moved = list(laid)
            moved[k] = affinity.translate(laid[k], dx, dy)
            behind = front_view(opened, effective(moved, method)[still:])
            views.append(((k + 1, dx, dy), [*before, *behind]))
    return views


def _looked_through(
    face: BaseGeometry, cleared: Sequence[BaseGeometry | None]
) -> tuple[list[BaseGeometry], BaseGeometry]:
    """Return what is seen of the first coats, and where they let through to those behind."""
    opened = on_grid(face)
    for region in cleared:
        opened = Polygon() if region is None else intersection(opened, region)
    return front_view(face, cleared), opened


def _thinned(region: BaseGeometry) -> BaseGeometry:
    """Leave out vertices that move no edge by more than a fraction of a micrometre."""
    thin = shapely.simplify(region, _THINNING_MM)
    return thin if thin.is_valid else region


def worst_slip(
    shown: Sequence[BaseGeometry],
    cleared: Sequence[BaseGeometry | None],
    *,
    face: BaseGeometry,
    method: Method,
    error_mm: float,
    allowed_mm: float = 0.0,
    views: Sequence[tuple[tuple[int, float, float], list[BaseGeometry]]] | None = None,
) -> Slip:
    """Return the widest sliver of a wrong colour when one clearing misses the others.

    A colour is wrong where it is seen farther than the error (and what an edge may err) from all
    that is to show it: that an edge between two neighbours moves cannot be helped and is none.

    Parameters
    ----------
    shown, cleared : sequence
        As in `moved_views`; what the reader is to see of each coat.
    face : BaseGeometry
        The blank's face.
    method : str
        "one-by-one" or "through".
    error_mm : float
        How far two clearings may miss each other.
    allowed_mm : float
        How far an edge may err of itself.
    views : sequence, optional
        What `moved_views` returns for the same clearings, where it is at hand.

    Returns
    -------
    Slip
        Places in the frame of the regions.
    """
    near = [
        on_grid(_thinned(region).buffer(error_mm + allowed_mm, quad_segs=_QUARTER_CHORDS))
        for region in shown
    ]
    worst = Slip()
    if views is None:
        views = moved_views(cleared, face=face, method=method, error_mm=error_mm)
    for move, seen in views:
        for number, (view, home) in enumerate(zip(seen, near, strict=True), start=1):
            wrong = difference(view, home)
            width, at = _widest(wrong, at_least=worst.width_mm)
            if width > worst.width_mm:
                worst = Slip(width_mm=width, coat=number, at_mm=at, moved=move)
    return worst


def _widest(region: BaseGeometry, *, at_least: float) -> tuple[float, tuple[float, float] | None]:
    """Return the diameter and centre of the largest disc in a region, if above `at_least`."""
    floor = max(at_least, _DUST_MM)
    core = region.buffer(-floor / 2, quad_segs=_QUARTER_CHORDS)
    if core.is_empty:
        return 0.0, None
    best, at = 0.0, None
    for part in shapely.get_parts(core):
        if not isinstance(part, Polygon):
            continue
        centre, radius = _largest_disc(part)
        if floor + 2 * radius > best:
            best, at = floor + 2 * radius, centre
    return best, at


def _largest_disc(part: Polygon) -> tuple[tuple[float, float], float]:
    line = shapely.maximum_inscribed_circle(part, tolerance=0.001)
    x, y = line.coords[0]
    return (float(x), float(y)), float(line.length)
