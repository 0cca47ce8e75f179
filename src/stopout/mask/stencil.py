"""A stencil cut from film: its islands, their bridges, sharp corners, and lines to peel by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from stopout.mask.offset import open_by_disc
from stopout.mask.regions import as_multipolygon

# A right angle rounded by 0.3 mm loses 0.019 mm^2, one of 135 degrees 0.0016 mm^2.
_CORNER_SHARE = 0.05
# Threads of rounding along straight edges would join what is lost at several corners.
_THREAD_MM = 1e-5
_FAR_MM = 10000.0
_OVERLAP = 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Island:
    """A piece of film that nothing but a transfer tape holds: the widest disc that it contains."""

    region: Polygon
    across_mm: float
    at_mm: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tie:
    """A bridge that holds an island: `length_mm` is the gap that it spans."""

    region: Polygon
    length_mm: float
    at_mm: tuple[float, float]


def islands_of(opening: BaseGeometry, face: BaseGeometry) -> tuple[Island, ...]:
    """Return the film's loose pieces once the openings are weeded, the smallest first.

    Parameters
    ----------
    opening : BaseGeometry
        What is weeded out, in mm.
    face : BaseGeometry
        The blank's face; the film goes past its edge and over its holes.
    """
    return tuple(
        sorted((_island(part) for part in _parted(opening, face)[1]), key=lambda one: one.across_mm)
    )


def _island(part: Polygon) -> Island:
    line = shapely.maximum_inscribed_circle(part, tolerance=0.001)
    x, y = line.coords[0]
    return Island(region=part, across_mm=2 * line.length, at_mm=(float(x), float(y)))


def _parted(opening: BaseGeometry, face: BaseGeometry) -> tuple[list[Polygon], list[Polygon]]:
    """Part the film that stays into what hangs together with its rim, and islands."""
    x0, y0, x1, y1 = shapely.union_all([face.envelope, opening.envelope]).bounds
    sheet = shapely.box(x0 - 1, y0 - 1, x1 + 1, y1 + 1)
    parts = list(shapely.get_parts(sheet.difference(opening)))
    held = [part for part in parts if part.intersects(sheet.exterior)]
    return held, [part for part in parts if not part.intersects(sheet.exterior)]


def bridge_islands(
    opening: BaseGeometry, face: BaseGeometry, *, width_mm: float
) -> tuple[MultiPolygon, tuple[Tie, ...]]:
    """Hold each island of a loose stencil: by its shortest gap, and once on the other side.

    Parameters
    ----------
    opening, face : BaseGeometry
        What is weeded out, and the blank's face, in mm.
    width_mm : float
        Width of a bridge.

    Returns
    -------
    MultiPolygon
        The opening less the bridges.
    tuple of Tie
        The bridges.
    """
    held, loose = _parted(opening, face)
    hold = shapely.union_all(held)
    ties: list[Tie] = []
    while loose:
        island = min(loose, key=hold.distance)
        loose.remove(island)
        here, there = (np.array(point.coords[0]) for point in nearest_points(island, hold))
        tie = _tie(here, there, width_mm)
        if tie is not None:
            ties.append(tie)
            other = _opposite(island, opening, here, there)
            ties += [] if other is None else [t for t in [_tie(*other, width_mm)] if t]
        hold = hold.union(island)
    left = opening.difference(shapely.union_all([tie.region for tie in ties]))
    return as_multipolygon(left), tuple(ties)


def _tie(here: np.ndarray, there: np.ndarray, width_mm: float) -> Tie | None:
    gap = float(np.hypot(*(there - here)))
    if gap == 0.0:
        return None
    # The ends lie within the film: a curved edge would leave slits beside a blunt end.
    more = (there - here) / gap * (_OVERLAP * width_mm)
    bar = LineString([here - more, there + more]).buffer(width_mm / 2, cap_style="flat")
    middle = (here + there) / 2
    return Tie(region=bar, length_mm=gap, at_mm=(float(middle[0]), float(middle[1])))


def _opposite(
    island: Polygon, opening: BaseGeometry, here: np.ndarray, there: np.ndarray
) -> tuple[np.ndarray, np.ndarray] | None:
    """Return the gap on an island's other side, along the line of its first bridge."""
    way = here - there
    towards = way / np.hypot(*way)
    ray = LineString([here, here + _FAR_MM * towards])
    own = [p for p in shapely.get_parts(ray.intersection(island)) if p.length > 0]
    if not own:
        return None
    leaves = max((np.array(c) for p in own for c in p.coords), key=lambda c: c @ towards)
    beyond = LineString([leaves, leaves + _FAR_MM * towards]).intersection(opening)
    gaps = [p for p in shapely.get_parts(beyond) if p.length > 0]
    if not gaps:
        return None
    first = min(gaps, key=lambda p: min(np.array(c) @ towards for c in p.coords))
    ends = sorted((np.array(c) for c in first.coords), key=lambda c: float(c @ towards))
    return ends[0], ends[-1]


def sharp_corners(
    opening: BaseGeometry, face: BaseGeometry, *, radius_mm: float
) -> tuple[tuple[float, float], ...]:
    """Return the places of the film's corners that are sharper than a radius, and so may lift.

    Parameters
    ----------
    opening, face : BaseGeometry
        What is weeded out, and the blank's face, in mm.
    radius_mm : float
        The least radius.
    """
    held, loose = _parted(opening, face)
    found = []
    for part in (*held, *loose):
        kept = shapely.buffer(open_by_disc(part, radius_mm), _THREAD_MM)
        lost = shapely.get_parts(part.difference(kept))
        tips = lost[shapely.area(lost) > _CORNER_SHARE * radius_mm**2]
        found += [(float(p.x), float(p.y)) for p in shapely.point_on_surface(tips)]
    x0, y0, x1, y1 = face.bounds
    # The corners of the sheet itself lie off the plate.
    return tuple((x, y) for x, y in found if x0 <= x <= x1 and y0 <= y <= y1)


def peel_lines(opening: BaseGeometry, *, longest_mm: float) -> tuple[LineString, ...]:
    """Return cuts that divide each opening's waste into pieces no longer than a length.

    Parameters
    ----------
    opening : BaseGeometry
        What is weeded out, in mm.
    longest_mm : float
        The longest piece, along x and along y.
    """
    lines: list[LineString] = []
    for part in shapely.get_parts(opening):
        x0, y0, x1, y1 = part.bounds
        across = [LineString([(x, y0 - 1), (x, y1 + 1)]) for x in _between(x0, x1, longest_mm)] + [
            LineString([(x0 - 1, y), (x1 + 1, y)]) for y in _between(y0, y1, longest_mm)
        ]
        for line in across:
            cut = shapely.get_parts(line.intersection(part))
            lines += [one for one in cut if one.geom_type == "LineString"]
    return tuple(lines)


def _between(low: float, high: float, longest: float) -> np.ndarray:
    n = max(int(np.ceil((high - low) / longest - 1e-9)), 1)
    return np.linspace(low, high, n + 1)[1:-1]
