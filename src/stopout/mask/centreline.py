"""The centre lines of thin places: their medial axes without spurs, trimmed at free ends.

All places are laid out together, for a call of the geometry library costs as much for one place as
for several; what becomes of one does not hang on the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiLineString

from stopout.links import linked
from stopout.mask.medial import NO_LINE, edges_round, medial_axes
from stopout.mask.regions import PolygonArray
from stopout.values import FloatArray

LineArray = PolygonArray

# How far the chords of a centre line may stand off the medial axis.
_CHORD_MM = 0.0005
# An end is pointed where its tip is this many half widths away; a square end's corners are 1.4.
_POINTED = 1.6
# A tip lies nearly straight on from its centre line: within 35 degrees.
_ONWARD = 0.82
# A twig must reach this many reaches from its junction.
_TWIG = 1.25
# A free end nearer to the beam centres than this share of the reach leads to them.
_JOINS = 0.35
_TWIG_JOINS = 0.2
# What is cleared where a place is too small for a line, as a share of the reach.
_DASH = 0.2
# Ends of lines are told apart to this many decimals of a millimetre.
_END_DECIMALS = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CentreLine:
    """Centre lines of a thin place, trimmed at free ends, with the half widths met along them."""

    lines: MultiLineString
    half_width_mm: FloatArray
    at_mm: tuple[float, float]


def centre_lines(
    places: PolygonArray,
    around: PolygonArray,
    stop_at: PolygonArray,
    *,
    reach_mm: float,
    edge_tolerance_mm: float,
) -> list[CentreLine | None]:
    """Return the centre lines of thin places of the target.

    Parameters
    ----------
    places : (n,) array of Polygon
        The parts of the target that the plain opening loses, in mm.
    around : (n,) array of geometries
        The target's parts that each is of, at least 3 reach beyond the place.
    stop_at : (n,) array of geometries
        Beam centres of the plain opening in those parts: a centre line ends where it meets them.
    reach_mm : float
        Radius of what is finished round one beam position, at its largest.
    edge_tolerance_mm : float
        How far a tapering end may be widened; its line ends where it would need more.

    Returns
    -------
    list of CentreLine or None
        At free ends the line stops one reach short of the stroke's end, so that the finished end
        lies flush with the drawn one; a place shorter than that becomes one short dash. None
        where the place is a mere corner between two strokes and has no centre line.
    """
    if not len(places):
        return []
    edges = edges_round(places, around, reach_mm=reach_mm)
    shapely.prepare(stop_at)
    axes = shapely.difference(medial_axes(places, around, edges, reach_mm=reach_mm), stop_at)
    gauge = _Gauge(places, edges, reach_mm, edge_tolerance_mm)
    branches = _without_fragments(
        _without_spurs(_Lines.of(axes), gauge, stop_at), reach_mm, stop_at
    )
    finished = _finished(branches, gauge, stop_at)
    lines = _Lines.of(finished.merged(len(places)))
    thin = shapely.simplify(lines.line, _CHORD_MM, preserve_topology=False)
    lines = _Lines(thin, lines.home)
    lines = lines.only(shapely.length(lines.line) > 0)
    return _measured(lines.and_of(_dashes(lines, places, stop_at, reach_mm)), len(places), gauge)


def _measured(lines: _Lines, count: int, gauge: _Gauge) -> list[CentreLine | None]:
    """Return the lines of each place with the half widths along them."""
    samples, line = _along(lines.line, gauge.reach_mm / 8)
    half = gauge.half_width_mm(samples)
    first = np.searchsorted(lines.home, np.arange(count + 1))
    cuts = np.searchsorted(line, first)
    found: list[CentreLine | None] = []
    for a, b, c, d in zip(first[:-1], first[1:], cuts[:-1], cuts[1:], strict=True):
        if a == b:
            found.append(None)
            continue
        typical = c + int(np.argsort(half[c:d])[(d - c) // 2])
        found.append(
            CentreLine(
                lines=MultiLineString(list(lines.line[a:b])),
                half_width_mm=half[c:d],
                at_mm=(float(samples[typical, 0]), float(samples[typical, 1])),
            )
        )
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """Lines, and the place that each is of, place by place."""

    line: LineArray
    home: NDArray[np.intp]

    @classmethod
    def of(cls, lines: LineArray) -> _Lines:
        """Return the pieces of each place's lines, as long as they go."""
        pieces, home = shapely.get_parts(shapely.line_merge(lines), return_index=True)
        real = (shapely.get_type_id(pieces) == 1) & (shapely.length(pieces) > 0)
        return cls(pieces[real], home[real])

    def only(self, which: NDArray[np.bool_]) -> _Lines:
        """Return some of the lines."""
        return _Lines(self.line[which], self.home[which])

    def and_of(self, others: _Lines) -> _Lines:
        """Return these and others, place by place."""
        home = np.concatenate([self.home, others.home])
        order = np.argsort(home, kind="stable")
        return _Lines(np.concatenate([self.line, others.line])[order], home[order])

    def merged(self, count: int) -> LineArray:
        """Return the lines of each place as one geometry."""
        found = np.full(count, NO_LINE)
        shapely.multilinestrings(self.line, indices=self.home, out=found)
        return found

    def ends(self) -> FloatArray:
        """Return the first and the last point of each line, (n, 2, 2)."""
        ends = [shapely.get_coordinates(shapely.get_point(self.line, k)) for k in (0, -1)]
        return np.stack(ends, axis=1)

    def nodes(self) -> NDArray[np.intp]:
        """Number the places at which lines of one place end: (n, 2)."""
        xy = np.round(self.ends().reshape(-1, 2), _END_DECIMALS)
        keys = np.column_stack([np.repeat(self.home, 2), xy])
        return np.unique(keys, axis=0, return_inverse=True)[1].reshape(-1, 2)

    def degrees(self) -> NDArray[np.intp]:
        """Return how many lines of its place end where each line begins, and ends: (n, 2)."""
        nodes = self.nodes()
        return np.asarray(np.bincount(nodes.ravel())[nodes])


class _Gauge:
    """Measures half widths: distances to the target's edge near thin places."""

    def __init__(
        self,
        places: PolygonArray,
        edges: PolygonArray,
        reach_mm: float,
        edge_tolerance_mm: float,
    ) -> None:
        self.places = places
        # What lies within a part is nearer to that part's edge than to any other's. Prepared
        # lines tell a distance in half the time that a tree of their chords takes.
        lines = shapely.get_parts(edges)
        self.edge = shapely.multilinestrings(lines[shapely.get_type_id(lines) == 1])
        shapely.prepare(self.edge)
        self.reach_mm = reach_mm
        self.edge_tolerance_mm = edge_tolerance_mm

    def half_width_mm(self, points: FloatArray) -> FloatArray:
        """Return the distance from each point to the edge."""
        return np.asarray(shapely.distance(self.edge, shapely.points(points)))

    def tips(
        self, lines: _Lines, which: NDArray[np.intp], *, at_start: bool
    ) -> tuple[NDArray[np.intp], FloatArray]:
        """Return which of some free ends run on to the tip of a point, and the tips.

        Ridges give out where a point gets thin. A blunt end, whose corners are hardly farther
        than its sides, stays as it is.
        """
        line, home = lines.line[which], lines.home[which]
        end = lines.ends()[which, 0 if at_start else 1]
        # The last ridges zigzag: the direction is taken over half a reach.
        back = np.minimum(shapely.length(line), self.reach_mm / 2)
        inner = shapely.get_coordinates(
            shapely.line_interpolate_point(line, back if at_start else -back)
        )
        onward = (end - inner) / np.hypot(*(end - inner).T)[:, None]
        # Each end beside each corner of its place.
        rings = shapely.get_exterior_ring(self.places[home])
        corners, k = shapely.get_coordinates(rings, return_index=True)
        away = corners - end[k]
        far = np.hypot(*away.T)
        ahead = (away * onward[k]).sum(axis=1) > _ONWARD * far
        ahead &= far > _POINTED * self.half_width_mm(end)[k]
        k, corners, far = k[ahead], corners[ahead], far[ahead]
        order = np.lexsort([-far, k])
        k, corners = k[order], corners[order]
        found = self._first_covered(home, end, k, corners)
        return which[k[found]], corners[found]

    def _first_covered(
        self,
        home: NDArray[np.intp],
        end: FloatArray,
        k: NDArray[np.intp],
        corners: FloatArray,
    ) -> NDArray[np.intp]:
        """Return the first corner of each end to which the way stays inside its place."""
        asked = np.unique(k)
        grown = np.full(len(end), None)
        grown[asked] = shapely.buffer(self.places[home[asked]], _CHORD_MM, quad_segs=2)
        shapely.prepare(grown[asked])
        found, waiting = [], np.searchsorted(k, asked)
        while len(waiting):
            ways = shapely.linestrings(np.stack([end[k[waiting]], corners[waiting]], axis=1))
            good = shapely.covers(grown[k[waiting]], ways)
            found.extend(waiting[good].tolist())
            # The next corner of those that are still without one.
            after = waiting[~good] + 1
            inside = after < len(k)
            same = np.zeros(len(after), dtype=bool)
            same[inside] = k[after[inside]] == k[after[inside] - 1]
            waiting = after[same]
        return np.array(sorted(found), dtype=np.intp)

    def cuts_mm(self, lines: LineArray, trims: NDArray[np.bool_]) -> FloatArray:
        """Return how much to trim off each line at its start and its end, where that is free.

        One reach from the stroke's end at least; and where the stroke tapers, as far as the
        widening would exceed both the tolerance and what the stroke needs elsewhere.
        """
        which = np.flatnonzero(trims.any(axis=1))
        ends = [shapely.get_coordinates(shapely.get_point(lines[which], k)) for k in (0, -1)]
        half = np.column_stack([self.half_width_mm(points) for points in ends])
        cuts = np.zeros((len(lines), 2))
        cuts[which] = np.where(trims[which], np.maximum(0.0, self.reach_mm - half), 0.0)
        # A line whose ends are wider than this has no taper, whatever it is elsewhere.
        least = (self.reach_mm - self.edge_tolerance_mm) / 2
        which = which[(trims[which] & (half < least)).any(axis=1)]
        points, line = _along(lines[which], self.reach_mm / 12)
        half = self.half_width_mm(points)
        first = np.searchsorted(line, np.arange(len(which) + 1))
        step = np.hypot(*np.diff(points, axis=0, prepend=points[:1]).T)
        for k, (a, b) in zip(which, pairwise(first), strict=True):
            for end in np.flatnonzero(trims[k]):
                way = slice(None, None, -1 if end else 1)
                cuts[k, end] = self._cut_mm(half[a:b][way], step[a + 1 : b][way])
        return cuts

    def _cut_mm(self, half: FloatArray, step: FloatArray) -> float:
        flush = max(0.0, self.reach_mm - half[0])
        enough = min(0.95 * float(np.median(half)), self.reach_mm - self.edge_tolerance_mm)
        # An end that is thinner than the rest, but no point, is as good a stroke as the rest.
        taper = 0.0
        if half[0] < enough / 2:
            # At least half of all places are as wide as that.
            taper = float(step[: int(np.argmax(half >= enough))].sum())
        # A long point is followed until what is left of it counts as a corner, not as lost.
        return float(max(flush, min(taper, 2.9 * self.reach_mm)))


def _along(lines: LineArray, spacing_mm: float) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return points along lines at most `spacing_mm` apart, their vertices included; and whose."""
    xy, line = shapely.get_coordinates(shapely.segmentize(lines, spacing_mm), return_index=True)
    return np.asarray(xy), line


def _without_spurs(lines: _Lines, gauge: _Gauge, stop_at: PolygonArray) -> _Lines:
    """Drop short twigs that hang on a junction with a free other end.

    A twig's finished end reaches its length and half its width from the junction, which is itself
    finished one reach round: what adds less than a quarter of that is not worth a line.
    """
    reach_mm = gauge.reach_mm
    while True:
        degree, length = lines.degrees(), shapely.length(lines.line)
        is_twig = (degree.min(axis=1) == 1) & (degree.max(axis=1) > 2)
        twig = np.flatnonzero(is_twig & (length <= _TWIG * reach_mm))
        free = lines.ends()[twig, np.where(degree[twig, 0] == 1, 0, 1)]
        joins = shapely.dwithin(
            stop_at[lines.home[twig]], shapely.points(free), _TWIG_JOINS * reach_mm
        )
        gains = length[twig] + gauge.half_width_mm(free) > _TWIG * reach_mm
        spurs = twig[~(joins | gains)]
        if not len(spurs):
            return lines
        stays = np.ones(len(length), dtype=bool)
        stays[spurs] = False
        lines = _merged_again(lines.only(stays), np.unique(lines.home[spurs]))


def _merged_again(lines: _Lines, homes: NDArray[np.intp]) -> _Lines:
    """Join the lines of some places where two of them meet."""
    here = np.isin(lines.home, homes)
    again = lines.only(here)
    return lines.only(~here).and_of(_Lines.of(again.merged(int(homes.max()) + 1)))


def _without_fragments(lines: _Lines, reach_mm: float, stop_at: PolygonArray) -> _Lines:
    """Drop short bits that hang on nothing, such as leftovers of a branch into a corner."""
    group = _groups(lines.nodes())
    length = np.bincount(group, weights=shapely.length(lines.line))
    leads = shapely.dwithin(stop_at[lines.home], lines.line, _JOINS * reach_mm)
    good = (length >= reach_mm) | (np.bincount(group, weights=leads) > 0)
    # Of a place that has none of them the longest stays.
    home = np.zeros(len(length), dtype=np.intp)
    home[group] = lines.home
    first = np.lexsort([-length, home])
    longest = first[np.unique(home[first], return_index=True)[1]]
    good[longest[~np.isin(home[longest], home[good])]] = True
    return lines.only(good[group])


def _groups(nodes: NDArray[np.intp]) -> NDArray[np.intp]:
    """Group lines that share ends; of each the number of its group."""
    label = linked(nodes.size, *nodes.T)[nodes[:, 0]]
    return np.asarray(np.unique(label, return_inverse=True)[1])


def _finished(lines: _Lines, gauge: _Gauge, stop_at: PolygonArray) -> _Lines:
    """Trim the free ends of branches, or join them to the beam centres they lead to."""
    is_free, ends, drawn = lines.degrees() == 1, lines.ends(), lines
    trims = is_free.copy()
    # Both ends go by the line as it was, and are cut once it is whole: neither comes first.
    for side, at_start in ((0, True), (1, False)):
        free = np.flatnonzero(is_free[:, side])
        tips = shapely.points(ends[free, side])
        leads = shapely.dwithin(stop_at[lines.home[free]], tips, _JOINS * gauge.reach_mm)
        trims[free[leads], side] = False
        links = shapely.shortest_line(tips[leads], stop_at[lines.home[free[leads]]])
        goals = shapely.get_coordinates(links)[1::2]
        lines = _lengthened(lines, free[leads], goals, at_start=at_start)
        which, tips = gauge.tips(drawn, free[~leads], at_start=at_start)
        lines = _lengthened(lines, which, tips, at_start=at_start)
    cuts = gauge.cuts_mm(lines.line, trims)
    return _Lines(_trimmed(lines.line, cuts, _DASH * gauge.reach_mm), lines.home)


def _lengthened(
    lines: _Lines, which: NDArray[np.intp], to: FloatArray, *, at_start: bool
) -> _Lines:
    """Lengthen some lines by a point at one end."""
    xy, line = shapely.get_coordinates(lines.line[which], return_index=True)
    numbers = np.arange(len(which))
    where = np.searchsorted(line, numbers, side="left" if at_start else "right")
    longer = lines.line.copy()
    longer[which] = shapely.linestrings(
        np.insert(xy, where, to, axis=0), indices=np.insert(line, where, numbers)
    )
    return _Lines(longer, lines.home)


def _trimmed(lines: LineArray, cuts: FloatArray, dash_mm: float) -> LineArray:
    """Cut lines at both ends; of one that is too short for that, leave a short dash."""
    length = shapely.length(lines)
    both = cuts.sum(axis=1)
    middle = length * (cuts[:, 0] / np.maximum(both, 1e-18))
    half = np.minimum(length / 2, dash_mm / 2)
    short = both >= 0.98 * length
    start = np.where(short, np.maximum(0.0, middle - half), cuts[:, 0])
    end = np.where(short, np.minimum(length, middle + half), length - cuts[:, 1])
    found = lines.copy()
    which = np.flatnonzero((start > 0) | (end < length))
    found[which] = _between(lines[which], start[which], end[which])
    return found


def _between(lines: LineArray, start_mm: FloatArray, end_mm: FloatArray) -> LineArray:
    """Return what of each line lies between two lengths along it."""
    xy, line = shapely.get_coordinates(lines, return_index=True)
    step = np.hypot(*np.diff(xy, axis=0, prepend=xy[:1]).T)
    along = np.cumsum(step)
    first = np.flatnonzero(np.diff(line, prepend=-1))
    last = np.flatnonzero(np.diff(line, append=-1))
    along -= along[first][line]
    # An end that is not cut stays the very point at which other lines meet it.
    ends = [
        np.where(uncut[:, None], xy[at], shapely.get_coordinates(
            shapely.line_interpolate_point(lines, length)
        ))
        for uncut, at, length in (
            (start_mm <= 0, first, start_mm),
            (end_mm >= shapely.length(lines), last, end_mm),
        )
    ]  # fmt: skip
    inner = (along > start_mm[line]) & (along < end_mm[line])
    numbers = np.arange(len(lines))
    parts = [ends[0], xy[inner], ends[1]]
    owner = np.concatenate([numbers, line[inner], numbers])
    order = np.argsort(owner, kind="stable")
    return np.asarray(
        shapely.linestrings(np.concatenate(parts)[order], indices=owner[order]), dtype=object
    )


def _dashes(lines: _Lines, places: PolygonArray, stop_at: PolygonArray, reach_mm: float) -> _Lines:
    """Return a short dash at the middle of each place that is too small to have a centre line.

    None where the place is a mere corner.
    """
    bare = np.flatnonzero(~np.isin(np.arange(len(places)), lines.home))
    # Nothing is within any distance of no centres.
    bare = bare[~shapely.dwithin(stop_at[bare], places[bare], 2 * reach_mm)]
    middle = shapely.get_coordinates(
        shapely.get_point(shapely.maximum_inscribed_circle(places[bare]), 0)
    )
    half = np.array([_DASH * reach_mm / 2, 0.0])
    dashes = shapely.linestrings(np.stack([middle - half, middle + half], axis=1))
    return _Lines(dashes, bare)
