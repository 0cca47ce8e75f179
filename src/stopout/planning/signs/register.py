"""What the reader sees of a sign whose clearings miss each other.

The coats as they were really cleared are laid on each other again, each clearing moved by as much
as two of them may miss each other, and the front view is held against the artwork colour by
colour. This goes forwards and knows nothing of how the clearings were planned.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter

import shapely
from shapely import affinity
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from stopout.planning.signs.grid import difference, intersection, on_grid, union
from stopout.planning.signs.shows import Method, effective, front_view

# A clearing, counted from 1, and by how much it lies off in x and y, in mm.
Move = tuple[int, float, float]
# Directions in which a clearing may be off.
_DIRECTIONS = 8
# What is thinner than this is left by the arithmetic.
_DUST_MM = 0.004
_QUARTER_CHORDS = 8
# Nearer to each other than this, edges are looked at together anyway.
_LEAST_APART_MM = 0.5
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
    moved: Move | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How much of the face shows the colour that the artwork has there."""

    share: float
    by_coat: tuple[float, ...]


def apart_mm(error_mm: float | None, edge_mm: float) -> float:
    """Return how far edges of a sign lie from each other that have nothing to do with each other.

    A coat is cleared farther than drawn by as much as two clearings may miss each other and an edge
    may err, and held against what lies about it as far again; and so of both edges.
    """
    return max(_LEAST_APART_MM, 4 * ((error_mm or 0.0) + edge_mm) + 10 * _DUST_MM)


def widest_of(slips: Sequence[Slip | None]) -> Slip | None:
    """Return the worst of what is seen in several places, the first of those that are alike."""
    found = [slip for slip in slips if slip is not None]
    return max(found, key=lambda slip: slip.width_mm, default=None)


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
    areas = [region.area for region in shown]
    lost = [a.area - intersection(a, b).area for a, b in zip(shown, seen, strict=True)]
    return agreement_of(areas, lost, face.area)


def agreement_of(
    shown_mm2: Sequence[float], lost_mm2: Sequence[float], face_mm2: float
) -> Agreement:
    """Hold a front view against the artwork, by the areas to be seen of each coat, and not seen."""
    right = [float(a - b) for a, b in zip(shown_mm2, lost_mm2, strict=True)]
    return Agreement(
        share=sum(right) / face_mm2,
        by_coat=tuple(r / a if a > 0 else 1.0 for r, a in zip(right, shown_mm2, strict=True)),
    )


def moves(cleared: Sequence[BaseGeometry | None], error_mm: float) -> list[Move]:
    """Return how clearings may miss each other: each after the first moved in eight directions.

    Parameters
    ----------
    cleared : sequence of BaseGeometry or None
        What was cleared after each coat, from the viewer backwards.
    error_mm : float
        How far two clearings may miss each other.

    Returns
    -------
    list of (coat, dx, dy)
        The clearing, counted from 1, and by how much it lies off.
    """
    turns = [2 * math.pi * turn / _DIRECTIONS for turn in range(_DIRECTIONS)]
    numbers = [k for k, region in enumerate(cleared, start=1) if region is not None]
    return [
        (k, error_mm * math.cos(angle), error_mm * math.sin(angle))
        for k in numbers[1:]
        for angle in turns
    ]


def moved_view(
    cleared: Sequence[BaseGeometry | None], *, face: BaseGeometry, method: Method, move: Move
) -> list[BaseGeometry]:
    """Return what is seen of each coat where one clearing lies off.

    Parameters
    ----------
    cleared : sequence of BaseGeometry or None
        What was cleared after each coat, from the viewer backwards.
    face : BaseGeometry
        The blank's face.
    method : str
        "one-by-one" or "through".
    move : (coat, dx, dy)
        As `moves` returns it.
    """
    coat, dx, dy = move
    moved = [*cleared]
    moved[coat - 1] = affinity.translate(cleared[coat - 1], dx, dy)
    return front_view(face, effective(moved, method))


def thinly_laid(cleared: Sequence[BaseGeometry | None]) -> list[BaseGeometry | None]:
    """Lay what was cleared on the grid, with as few vertices as a fraction of a micrometre needs.

    Arcs of programs have twice as many.
    """
    return [None if region is None else on_grid(_thinned(region)) for region in cleared]


def _thinned(region: BaseGeometry) -> BaseGeometry:
    """Leave out vertices that move no edge by more than a fraction of a micrometre."""
    # Part by part: taken together, each would be held against all others.
    thin = shapely.multipolygons(shapely.simplify(shapely.get_parts(region), _THINNING_MM))
    return thin if thin.is_valid else region


def worst_slip(
    shown: Sequence[BaseGeometry],
    cleared: Sequence[BaseGeometry | None],
    *,
    face: BaseGeometry,
    method: Method,
    error_mm: float,
    allowed_mm: float = 0.0,
) -> Slip:
    """Return the widest sliver of a wrong colour when one clearing misses the others.

    A colour is wrong where it is seen farther than the error (and what an edge may err) from all
    that is to show it: that an edge between two neighbours moves cannot be helped and is none.

    Parameters
    ----------
    shown, cleared : sequence
        As in `moved_view`; what the reader is to see of each coat.
    face : BaseGeometry
        The blank's face.
    method : str
        "one-by-one" or "through".
    error_mm : float
        How far two clearings may miss each other.
    allowed_mm : float
        How far an edge may err of itself.

    Returns
    -------
    Slip
        Places in the frame of the regions.
    """
    near = [
        on_grid(_thinned(region).buffer(error_mm + allowed_mm, quad_segs=_QUARTER_CHORDS))
        for region in shown
    ]
    laid = [None if region is None else on_grid(region) for region in cleared]
    worst = Slip()
    for coat, tried in groupby(moves(cleared, error_mm), key=itemgetter(0)):
        doubtful = _doubtful(laid, near, coat - 1, face=face, method=method, error_mm=error_mm)
        for move in tried:
            off = affinity.translate(laid[coat - 1], *move[1:])
            for number, (beside, within) in doubtful.items():
                wrong = union([difference(beside, off), intersection(within, off)])
                width, at = _widest(wrong, at_least=worst.width_mm)
                if width > worst.width_mm:
                    worst = Slip(width_mm=width, coat=number, at_mm=at, moved=move)
    return worst


def _doubtful(
    laid: Sequence[BaseGeometry | None],
    near: Sequence[BaseGeometry],
    k: int,
    *,
    face: BaseGeometry,
    method: Method,
    error_mm: float,
) -> dict[int, tuple[BaseGeometry, BaseGeometry]]:
    """Return where each coat is wrong once a clearing that lies off spares a place, or takes it.

    What is seen at a point hangs on a clearing only by whether it takes that point. So it is enough
    to look twice, as if the clearing took nothing and as if it took all, and to keep of what is
    wrong then that which some move may spare, or take. Little is left to be moved about in.

    Returns
    -------
    dict of coat number to (BaseGeometry, BaseGeometry)
        Without coats that nothing is wrong of.
    """
    own = laid[k]
    assert own is not None
    # Chords of arcs and what the library thins before it offsets lie within this.
    may = 1.02 * error_mm + _DUST_MM
    always, ever = (on_grid(own.buffer(by, quad_segs=_QUARTER_CHORDS)) for by in (-may, may))
    # One by one, what is seen of the coats in front does not change.
    still = k if method == "one-by-one" else 0
    before, opened = _looked_through(face, laid[:still])
    spared, taken = (
        front_view(opened, effective([*laid[:k], instead, *laid[k + 1 :]], method)[still:])
        for instead in (None, face)
    )
    wrong = [difference(view, home) for view, home in zip(before, near, strict=False)]
    found = {j: (region, region) for j, region in enumerate(wrong, start=1) if not region.is_empty}
    for j, (beside, within) in enumerate(zip(spared, taken, strict=True), start=still):
        beside = difference(difference(beside, near[j]), always)
        within = intersection(difference(within, near[j]), ever)
        if not (beside.is_empty and within.is_empty):
            found[j + 1] = beside, within
    return found


def _looked_through(
    face: BaseGeometry, cleared: Sequence[BaseGeometry | None]
) -> tuple[list[BaseGeometry], BaseGeometry]:
    """Return what is seen of the first coats, and where they let through to those behind."""
    opened = on_grid(face)
    for region in cleared:
        opened = Polygon() if region is None else intersection(opened, region)
    return front_view(face, cleared), opened


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
        # On a grid the library leaves a crumb now and then that lies beside the region.
        if floor + 2 * radius > best and region.contains(Point(centre)):
            best, at = floor + 2 * radius, centre
    return best, at


def _largest_disc(part: Polygon) -> tuple[tuple[float, float], float]:
    line = shapely.maximum_inscribed_circle(part, tolerance=0.001)
    x, y = line.coords[0]
    return (float(x), float(y)), float(line.length)
