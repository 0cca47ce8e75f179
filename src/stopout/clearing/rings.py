"""Fill lines that follow the edge: rings one spacing within another, and what is left between them.

Ring k runs on the edge of the beam centres eroded k times by an ellipse of half the axes of the
spacings, so that rings lie one spacing apart in every direction: that for lines along x where they
run along x, that for lines along y where they run along y. The outline is ring 0.

Each ring clears half a mark on either side. Where an erosion leaves nothing, or a corner so sharp
that the next ring stays too far back (at a corner of angle 2a the middle of the gap lies p/(1 + sin
a) from both), slivers are left over; they are narrower than a mark and get a line along their
middle, or round their edge where they fork.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from stopout.clearing.spot import FWHM_PER_RADIUS
from stopout.values import FloatArray

# The marks' own coverage is counted on less this, so that chords leave no threads.
_SLACK_MM = 0.001
# How far chords of a ring may stand off its curve.
_CHORD_MM = 0.0003
# Inner rings may stand off more, and lose needles thinner than twice this.
_INNER_CHORD_MM = 0.002
_NEEDLE_MM = 0.003
_QUAD_SEGS = 16
# Rings this share of a mark apart leave nothing at a square corner: (1 + sin 45) / 2.
_SQUARE = (1 + np.sqrt(0.5)) / 2
# Within this much of the mark's edge, in marks, the dose is calculated before a place is believed
# cleared; it may fall short by as much as the power lags behind the speed.
_DOUBT = 0.03
_LEAST_DOSE = 0.88
_LEAST_WITH_PATH = 0.97
# Slivers thinner than this come of the slack, and are cleared.
_SLIVER_MM = 0.0008
# More rings than this are no narrow part: parallel lines are as good there.
_MOST_RINGS = 80
# A sliver's middle line is drawn with a point about every this many marks.
_PER_MARK = 0.25
# How much a middle line may be straightened, and its ends held back, in marks.
_STRAIGHTER, _HELD_BACK = 0.03, 0.2
_MOST_POINTS = 600
# A line this many spot radii off brings less than a thousandth of its dose: exp(-2 x 1.9^2).
_DOSE_REACH = 1.9
# Shapes shorter round than this many marks are offset with more points.
_SMALL = 30.0
# How far a line is switched on before what it has to clear, and off after it, in marks.
_LEAD_MARKS = 0.7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ring:
    """One path of a ring fill.

    `points_mm` is (n + 1, 2), closed where the first and last agree. `depth` counts from the
    outline, 0; a sliver's line has the depth of the ring about it and a half.
    """

    points_mm: FloatArray
    depth: float


def ring_fill(
    part: Polygon, *, mark_mm: tuple[float, float], spacing_mm: dict[str, float]
) -> list[Ring] | None:
    """Return rings and slivers' lines that clear an area of beam centres, its outline among them.

    Parameters
    ----------
    part : Polygon
        One connected area of beam centres.
    mark_mm : (float, float)
        Full axes of the mark along x and y.
    spacing_mm : dict
        Spacing of lines along "x" and "y".

    Returns
    -------
    list of Ring or None
        None where the area is no narrow part, or a sliver could not be cleared by one line.
    """
    mark = _Plane(mark_mm)
    apart = zip((spacing_mm["y"], spacing_mm["x"]), mark_mm, strict=True)
    offset = _Plane(
        tuple(min(p, _SQUARE * (axis - 2 * (_SLACK_MM + _NEEDLE_MM / 2))) for p, axis in apart)
    )
    if min(_sides(part, offset)) > 2 * _MOST_RINGS:
        return None
    cleared = 0.5 - _SLACK_MM / min(mark_mm)
    found, level = [], MultiPolygon([part])
    for depth in range(_MOST_RINGS + 1):
        found += _edges(level, depth)
        # Half a mark within its outline all is cleared, unless it is wider than that.
        inner = mark.grown(level, -cleared)
        if inner.is_empty:
            return found
        following = _smooth(offset.grown(level, -1.0))
        # Outside its corners a ring clears less than half a mark: bevelled, a little less still.
        strict = inner.difference(mark.grown(following, cleared - _DOUBT, join_style="bevel"))
        doubt = _Doubt(inner=inner, levels=(level, following), mark=mark, cleared=cleared)
        lines = _sliver_lines(strict, doubt, (part, level), mark, cleared, depth)
        if lines is None:
            return None
        found += lines
        if following.is_empty:
            return found
        level = following
    return None


class _Plane:
    """The plane stretched so that an ellipse of these full axes becomes a disc of diameter 1."""

    def __init__(self, axes_mm: Sequence[float]) -> None:
        self.axes = np.asarray(axes_mm, dtype=float)

    def into(self, area: BaseGeometry) -> BaseGeometry:
        return shapely.transform(area, lambda xy: xy / self.axes)

    def back(self, area: BaseGeometry) -> BaseGeometry:
        return shapely.transform(area, lambda xy: xy * self.axes)

    def grown(
        self, area: BaseGeometry, by: float, *, join_style: Literal["round", "bevel"] = "round"
    ) -> BaseGeometry:
        """Return an area grown (or shrunk) by so many full axes."""
        if area.is_empty:
            return area
        parts = shapely.get_parts(self.into(area))
        # The library simplifies what it offsets, and loses small shapes of few points by it.
        small = shapely.length(parts) < _SMALL
        parts[small] = shapely.segmentize(parts[small], _SMALL / 100)
        whole = shapely.multipolygons(parts)
        return self.back(shapely.buffer(whole, by, quad_segs=_QUAD_SEGS, join_style=join_style))


def _sides(part: Polygon, plane: _Plane) -> tuple[float, float]:
    """Return the sides of the least rectangle about a part, in units of the plane."""
    rectangle = shapely.minimum_rotated_rectangle(plane.into(part))
    xy = shapely.get_coordinates(rectangle)
    if len(xy) < 4:
        return (0.0, 0.0)
    side = np.hypot(*np.diff(xy[:3], axis=0).T)
    # A bent or ringed part is no wider than twice its area over its edge, twice over.
    width = 4 * plane.into(part).area / max(plane.into(part).length, 1e-9)
    return (float(min(side.min(), 2 * width)), float(side.max()))


def _areas(geometry: BaseGeometry) -> MultiPolygon:
    parts = shapely.get_parts(geometry)
    return MultiPolygon([part for part in parts if part.geom_type == "Polygon" and part.area > 0])


def _smooth(level: BaseGeometry) -> MultiPolygon:
    """Return an inner level without needles, its corners a little rounded and its chords few.

    What is lost of it counts as not cleared by it.
    """
    opened = shapely.buffer(shapely.buffer(level, -_NEEDLE_MM), _NEEDLE_MM, quad_segs=2)
    return _areas(shapely.simplify(opened, _INNER_CHORD_MM))


def _edges(level: MultiPolygon, depth: int) -> list[Ring]:
    rings = shapely.get_rings(shapely.get_parts(level))
    simple = shapely.simplify(rings, _CHORD_MM)
    return [
        Ring(points_mm=points, depth=float(depth))
        for points in (shapely.get_coordinates(ring) for ring in simple)
        if len(points) >= 4
    ]


def _rings_of(level: MultiPolygon) -> list[FloatArray]:
    rings = shapely.get_rings(shapely.get_parts(level))
    return [shapely.get_coordinates(ring) for ring in rings]


class _Doubt:
    """Tells whether a place between two rings is left: by the mark's shape, or by the dose.

    `inner` is what must be cleared within the outline of the outer of two `levels`; `cleared` is
    how far from a ring the mark's shape clears, in marks.
    """

    def __init__(
        self,
        *,
        inner: BaseGeometry,
        levels: tuple[MultiPolygon, MultiPolygon],
        mark: _Plane,
        cleared: float,
    ) -> None:
        self.inner, self.levels, self.mark, self.cleared = inner, levels, mark, cleared

    @cached_property
    def tracks(self) -> list[_Track]:
        """The rings in the mark's plane, made once for all places between them."""
        edges = [edge for level in self.levels for edge in _rings_of(level)]
        return [_Track(edge / self.mark.axes) for edge in edges]

    @cached_property
    def left(self) -> BaseGeometry:
        """What the mark's shape leaves, found where any place asks for it."""
        return self.inner.difference(self.mark.grown(self.levels[1], self.cleared))

    def left_of(self, places: NDArray[np.object_]) -> list[Polygon]:
        """Return those of some places that must get a line of their own."""
        shared = shapely.intersection(places, self.left)
        is_bare = ~shapely.is_empty(shapely.buffer(shared, -_SLIVER_MM / 2))
        return [
            place
            for place, bare in zip(places, is_bare, strict=True)
            if bare or not self.is_dosed(place)
        ]

    def is_dosed(self, place: Polygon, path: FloatArray | None = None) -> bool:
        """Tell whether the rings, and a further path, bring enough dose all over a place."""
        at = shapely.get_coordinates(shapely.segmentize(place.exterior, _SLIVER_MM * 20))
        at = np.vstack([at, shapely.get_coordinates(place.representative_point())])
        at = at / self.mark.axes
        least = _LEAST_DOSE if path is None else _LEAST_WITH_PATH
        further = [] if path is None else [_Track(path / self.mark.axes)]
        for track in [*further, *self.tracks]:
            if not len(at):
                return True
            # What one line has dosed enough need not be asked of the others.
            at = at[2 * least * track.dose(at) < 1]
        return not len(at)


class _Track:
    """A ring or a line in the mark's plane, as chords, for what it doses about it."""

    def __init__(self, points: FloatArray) -> None:
        step = np.diff(points, axis=0)
        length = np.hypot(*step.T)
        real = length > 0
        self.is_closed = np.array_equal(points[0], points[-1])
        self.start, self.length = points[:-1][real], length[real]
        self.ahead = step[real] / self.length[:, None]
        self.begin = np.cumsum(self.length) - self.length
        self.low = np.minimum(points[:-1], points[1:])[real]
        self.high = np.maximum(points[:-1], points[1:])[real]

    def dose(self, at: FloatArray) -> FloatArray:
        """Return the line dose at points, 1 in the middle of a straight line, marks being 1 wide.

        Summed over the chords within reach along the line, each with a Gaussian spot whose line
        at a dose ratio of 2 is a mark wide. Chords too far off to bring a thousandth are left out.
        """
        from scipy.special import erf

        w = 1 / FWHM_PER_RADIUS
        reach = _DOSE_REACH * w
        near = (self.low <= at.max(axis=0) + reach) & (self.high >= at.min(axis=0) - reach)
        k = np.flatnonzero(near.all(axis=1))
        if not len(k):
            return np.zeros(len(at))
        start, ahead, length, begin = self.start[k], self.ahead[k], self.length[k], self.begin[k]
        x, y = (at[:, None] - start[None]).transpose(2, 0, 1)
        along = x * ahead[:, 0] + y * ahead[:, 1]
        across = y * ahead[:, 0] - x * ahead[:, 1]
        on = along.clip(0, length)
        nearest = np.argmin(across**2 + (along - on) ** 2, axis=1)
        here = begin[nearest] + on[np.arange(len(at)), nearest]
        gap = np.abs(begin + length / 2 - here[:, None])
        if self.is_closed:
            gap = np.minimum(gap, self.length.sum() - gap)
        share = erf(np.sqrt(2) / w * along) - erf(np.sqrt(2) / w * (along - length))
        dose = np.exp(-2 / w**2 * across**2) * share / 2
        return np.asarray((dose * (gap - length / 2 < 2 * w)).sum(axis=1))


def _sliver_lines(
    left: BaseGeometry,
    doubt: _Doubt,
    areas: tuple[Polygon, MultiPolygon],
    mark: _Plane,
    cleared: float,
    depth: int,
) -> list[Ring] | None:
    """Return a line for each sliver that two rings leave; None where one cannot be cleared so."""
    slivers = shapely.get_parts(_areas(left))
    slivers = slivers[~shapely.is_empty(shapely.buffer(slivers, -_SLIVER_MM / 2))]
    if not len(slivers):
        return []
    lines = []
    part, level = areas
    inside = shapely.buffer(level, 1e-6)
    shapely.prepare(inside)
    shapely.prepare(part)
    for sliver in doubt.left_of(slivers):
        first: FloatArray | None = None
        for path in _paths_for(mark.into(sliver), mark, cleared, inside):
            led = _led(path, mark, part)
            first = led if first is None else first
            if doubt.is_dosed(sliver, led):
                first = led
                break
        if first is None:
            return None
        lines.append(Ring(points_mm=first, depth=depth + 0.5))
    return lines


def _paths_for(
    sliver: Polygon, mark: _Plane, cleared: float, inside: BaseGeometry
) -> Iterator[FloatArray]:
    """Yield those of a sliver's possible paths whose mark clears it and that stay inside."""
    for path in _candidates(sliver):
        if path.length < 1e-4:
            continue
        missed = sliver.difference(shapely.buffer(path, cleared, quad_segs=_QUAD_SEGS))
        if not shapely.buffer(missed, -1e-3).is_empty:
            continue
        laid = mark.back(path)
        if inside.covers(laid):
            yield np.asarray(shapely.get_coordinates(laid))


def _led(points: FloatArray, mark: _Plane, inside: BaseGeometry) -> FloatArray:
    """Return an open path led on straight at both ends, as far as it stays inside.

    A line switched on or off at speed clears its full width only within its end.
    """
    if np.array_equal(points[0], points[-1]):
        return points
    for _ in range(2):
        step = (points[0] - points[1]) / mark.axes
        step = step / np.hypot(*step) * mark.axes
        for share in (1.0, 0.75, 0.5, 0.25):
            on = points[0] + step * _LEAD_MARKS * share
            if inside.covers(LineString([points[0], on])):
                points = np.vstack([on, points[1:]])
                break
        points = points[::-1]
    return points


def _candidates(sliver: Polygon) -> Iterator[LineString]:
    """Yield paths along a sliver, in the mark's plane, the shortest first."""
    edge = shapely.simplify(sliver.exterior, _STRAIGHTER / 4)
    if len(sliver.interiors) == 1:
        yield shapely.simplify(_between(edge, sliver.interiors[0]), _STRAIGHTER)
    elif not sliver.interiors:
        middle = _middle(shapely.get_coordinates(edge)[:-1])
        straight = shapely.simplify(middle, _STRAIGHTER)
        if straight.length > 3 * _HELD_BACK:
            yield substring(straight, _HELD_BACK, straight.length - _HELD_BACK)
        yield straight
        yield middle
        yield shapely.simplify(sliver.exterior, _STRAIGHTER)


def _between(outer: LineString, inner: LineString) -> LineString:
    """Return the closed line half way between the two edges of a ring-shaped sliver."""
    around = shapely.points(shapely.get_coordinates(shapely.segmentize(outer, _PER_MARK)))
    facing = shapely.line_interpolate_point(inner, shapely.line_locate_point(inner, around))
    halfway = (shapely.get_coordinates(around) + shapely.get_coordinates(facing)) / 2
    return LineString(np.vstack([halfway[:-1], halfway[:1]]))


def _middle(points: FloatArray) -> LineString:
    """Return the line half way between the two sides of a sliver, from tip to tip.

    The tips are its two corners farthest apart; points of both sides are paired by their share of
    the way.
    """
    few = points[:: max(1, len(points) // _MOST_POINTS)]
    gap = few[:, None] - few[None, :]
    first, last = np.unravel_index(int(np.argmax((gap**2).sum(axis=-1))), gap.shape[:2])
    low, high = sorted((int(first), int(last)))
    one = LineString(few[low : high + 1])
    other = LineString(np.vstack([few[high:], few[: low + 1]])[::-1])
    n = max(2, int(np.ceil(max(one.length, other.length) / _PER_MARK)) + 1)
    share = np.linspace(0, 1, n)
    sides = [
        shapely.get_coordinates(shapely.line_interpolate_point(side, share, normalized=True))
        for side in (one, other)
    ]
    return LineString((sides[0] + sides[1]) / 2)
