"""Bridges of land that the etch takes away: openings apart in the resist that meet in the metal.

What is finished beyond the target and touches it along two stretches, or more, is such a bridge;
a counter that is filled altogether is one that has closed on itself. Each is measured along the
line across it: how wide it was drawn, how much resist stands on it, and how far each side comes
out over the drawn edge. From that follows what depth, mark or gap would keep it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import PolygonArray, count_holes, parts_of
from stopout.mask.surroundings import Surroundings
from stopout.mask.widthmap import LocalWidths
from stopout.values import FloatArray

# Stretches of edge closer than twice this are one; the prediction knows an edge to 0.5 um.
_SLACK_MM = 0.001
# Within one part of the target a narrower gap is the arithmetic's own.
_LEAST_GAP_MM = 0.01


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bridge:
    """A land that is drawn and will not be left.

    `at_mm` is its middle where it is narrowest, `drawn_mm` its width there, `resist_mm` the width
    of the resist on it (0 where the beam itself clears it), `over_mm` how far the finished edge
    comes over the drawn one from each side, were the other not there.
    """

    at_mm: tuple[float, float]
    drawn_mm: float
    resist_mm: float
    over_mm: tuple[float, float]


def lost_bridges(
    target: BaseGeometry,
    opening: BaseGeometry,
    finished: BaseGeometry,
    excess: BaseGeometry,
    *,
    land: Callable[[], LocalWidths],
    n_filled: int,
    undercut_mm: float,
) -> tuple[Bridge, ...]:
    """Find the lands between two places of the target that the finished region runs across.

    Such a land links two stretches of the target's edge; or, between two places of one part, it
    parts one land that stays from another.

    Parameters
    ----------
    target, opening, finished, excess : BaseGeometry
        What is to be finished, where the resist is open, what will be finished, and what of that
        lies beyond the target, in mm.
    land : callable
        Returns local widths of the land as drawn; asked where lands go between places of one part.
    n_filled : int
        How many holes of the target are filled.
    undercut_mm : float
        Sideways advance of the etch per edge.

    Returns
    -------
    tuple of Bridge
        One for each, the narrowest first.
    """
    pieces, drawn = parts_of(excess), Surroundings(target)
    # Nearly all pieces are slivers along one part. The parts ask: who asks is prepared once, and
    # one part may have nearly every vertex.
    slivers = shapely.STRtree(pieces)
    touched = slivers.query(drawn.parts, predicate="dwithin", distance=_SLACK_MM)[1]
    links = np.bincount(touched, minlength=len(pieces)) > 1
    cleared = Surroundings(opening)
    ways = [line for piece in pieces[links] for line in _ways_across(piece, drawn)]
    if count_holes(parts_of(finished)) > count_holes(drawn.parts) - n_filled:
        ways += _ways_within_parts(pieces[~links], drawn, finished, land)
    found = [_measured(line, cleared, undercut_mm) for line in ways]
    return tuple(sorted(found, key=lambda bridge: bridge.drawn_mm))


def lost_counters(
    counters: BaseGeometry, opening: BaseGeometry, *, undercut_mm: float
) -> tuple[Bridge, ...]:
    """Measure counters that are filled, each across its largest disc.

    Parameters
    ----------
    counters : BaseGeometry
        Holes of the target of which nothing is left, in mm.
    opening : BaseGeometry
        Where the resist is open.
    undercut_mm : float
        Sideways advance of the etch per edge.

    Returns
    -------
    tuple of Bridge
        In the order of the counters.
    """
    cleared = Surroundings(opening)
    found = []
    for counter in parts_of(counters):
        middle = Point(shapely.get_coordinates(shapely.maximum_inscribed_circle(counter))[0])
        line = _chord(middle, counter.boundary, counter.length)
        found.append(_measured(line or counter.boundary, cleared, undercut_mm))
    return tuple(found)


def land_across(
    at_mm: tuple[float, float],
    target: BaseGeometry,
    opening: BaseGeometry,
    *,
    undercut_mm: float,
    longest_mm: float,
) -> Bridge | None:
    """Measure the land at a place as bridges are; None where it is wider than the longest.

    Parameters
    ----------
    at_mm : (float, float)
        A place on the land.
    target, opening : BaseGeometry
        What is to be finished, and where the resist is open, in mm.
    undercut_mm : float
        Sideways advance of the etch per edge.
    longest_mm : float
        How far away its other side is looked for.
    """
    line = _land_line(Point(at_mm), Surroundings(target), longest_mm)
    return None if line is None else _measured(line, Surroundings(opening), undercut_mm)


def _ways_across(piece: BaseGeometry, drawn: Surroundings) -> list[LineString]:
    """Return the shortest lines that link the stretches along which a piece touches the target."""
    around = piece.buffer(_SLACK_MM, 2)
    stretches: list[BaseGeometry] = []
    owners: list[int] = []
    for owner, part in enumerate(drawn.touching(around)):
        touch = shapely.intersection(part.boundary, around)
        for area in shapely.get_parts(touch.buffer(_SLACK_MM, 2)):
            stretches.append(shapely.intersection(touch, area))
            owners.append(owner)
    linked, ways = [0], []
    while len(linked) < len(stretches):
        left = [k for k in range(len(stretches)) if k not in linked]
        pairs = [(stretches[j].distance(stretches[k]), j, k) for j in linked for k in left]
        gap, j, k = min(pairs)
        linked.append(k)
        if gap > _LEAST_GAP_MM or (owners[j] != owners[k] and gap > 0):
            ways.append(_middle_way(stretches[j], stretches[k], gap))
    return ways


def _ways_within_parts(
    pieces: PolygonArray,
    drawn: Surroundings,
    finished: BaseGeometry,
    land_widths: Callable[[], LocalWidths],
) -> list[LineString]:
    """Return lines across the lands that go between two places of one part of the target.

    Each then parts two lands that stay: it runs along two outlines of what is finished.
    """
    rings = shapely.get_rings(parts_of(finished))
    piece, ring = shapely.STRtree(rings).query(pieces, predicate="intersects")
    shared = shapely.length(shapely.intersection(shapely.boundary(pieces[piece]), rings[ring]))
    along = np.bincount(piece[shared > _LEAST_GAP_MM])
    ways: list[LineString] = []
    if not (along > 1).any():
        return ways
    land = land_widths()
    for k in np.flatnonzero(along > 1):
        inside = shapely.contains_xy(pieces[k], *land.at_mm.T)
        if inside.any():
            narrowest = int(np.argmin(np.where(inside, land.width_mm, np.inf)))
            line = _land_line(Point(land.at_mm[narrowest]), drawn, 4 * land.width_mm[narrowest])
            ways += [line] if line is not None else []
    return ways


def _middle_way(first: BaseGeometry, second: BaseGeometry, gap_mm: float) -> LineString:
    """Return a shortest line between two stretches; of many alike, the one in their middle."""
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(first, gap_mm / 2 + 0.01)))
    alike = points[shapely.distance(points, second) <= gap_mm + _SLACK_MM]
    if not len(alike):
        return shapely.shortest_line(first, second)
    middle = shapely.centroid(shapely.multipoints(alike))
    return shapely.shortest_line(alike[np.argmin(shapely.distance(alike, middle))], second)


def _chord(middle: Point, edge: BaseGeometry, longest_mm: float) -> LineString | None:
    """Return the line through a place from the nearest edge to the one opposite, if there is."""
    touch = shapely.get_coordinates(shapely.shortest_line(middle, edge))[1]
    at = shapely.get_coordinates(middle)[0]
    away = at - touch
    far = at + away * (longest_mm / max(float(np.hypot(*away)), 1e-9))
    beyond = shapely.intersection(LineString([at, far]), edge)
    if beyond.is_empty:
        return None
    return LineString([touch, shapely.get_coordinates(shapely.shortest_line(middle, beyond))[1]])


def _land_line(middle: Point, drawn: Surroundings, longest_mm: float) -> LineString | None:
    """Return the line across the land at a place, if it has an edge on both sides."""
    near = drawn.near(middle, longest_mm)
    if not len(near) or shapely.intersects(near, middle).any():
        return None
    return _chord(middle, shapely.union_all(shapely.boundary(near)), longest_mm)


def _measured(line: LineString, cleared: Surroundings, undercut_mm: float) -> Bridge:
    """Measure a bridge along the line across it."""
    a, b = shapely.get_coordinates(line)
    gap = float(np.hypot(*(b - a)))
    onward = (b - a) / max(gap, 1e-12)
    margin = 4 * undercut_mm + 0.1
    near = cleared.near(line, margin)
    ray = LineString([a - margin * onward, b + margin * onward])
    if not len(near):
        first = second = undercut_mm
    else:
        first = _inset(ray, near, a, onward, gap / 2)
        second = _inset(ray, near, b, -onward, gap / 2)
    return Bridge(
        at_mm=(float((a + b)[0] / 2), float((a + b)[1] / 2)),
        drawn_mm=gap,
        resist_mm=max(0.0, gap + first + second),
        over_mm=(undercut_mm - first, undercut_mm - second),
    )


def _inset(
    ray: LineString, near: PolygonArray, edge: FloatArray, onward: FloatArray, middle: float
) -> float:
    """Return how far the opening's edge lies behind the drawn edge; negative where it is over it.

    At the most it is over by half the gap: then the beam itself clears the bridge.
    """
    cut = shapely.get_parts(shapely.intersection(ray, near))
    spans = [(shapely.get_coordinates(part) - edge) @ onward for part in cut]
    ends = [float(span.max()) for span in spans if len(span) and span.min() < middle]
    if not ends:
        # Nothing is open straight behind: what comes from beside is as far away as it is.
        return float(shapely.distance(Point(edge), near).min())
    return -min(max(ends), middle)
