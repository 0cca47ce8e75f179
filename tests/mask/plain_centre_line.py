"""The plain way to a centre line, one place after another; slow, and kept to hold the quick one to.

The medial axis is read from the Voronoi diagram of points along the target's boundary. A branch
is kept only where the two nearest boundary points face each other, so that the branches which run
into square corners and along noise of the boundary are left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import QhullError, Voronoi
from shapely.geometry import LineString, MultiLineString, Point
from shapely.geometry.base import BaseGeometry

from stopout.mask.regions import chords_of
from stopout.values import FloatArray

# Two boundary points face each other where the chord between them is nearly a diameter:
# 0.85 leaves out the branches into corners of 64 degrees and more, and keeps sharper tapers.
_FACING = 0.85
# Where the centre line itself turns at an acute angle they face less than that.
_HARDLY_FACING = 0.5
# How far the chords of a centre line may stand off the medial axis.
_CHORD_MM = 0.0005
# These stay as exact as the diagram; the quick way may stand off by the chord above.
_EXACT_MM = 0.00001
# An end is pointed where its tip is this many half widths away; a square end's corners are 1.4.
_POINTED = 1.6
# A tip lies nearly straight on from its centre line: within 35 degrees.
_ONWARD = 0.82
# A twig must reach this many reaches from its junction.
_TWIG = 1.25
# A stroke narrower than this share of the reach is a hairline, and grown by that share to be read.
_HAIRLINE = 0.25
_THICKER = 1 / 6
# Vertices of the diagram are told apart to a hundredth of a micrometre.
_VERTEX_DECIMALS = 5
# What is cleared where a place is too small for a line, as a share of the reach.
_DASH = 0.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CentreLine:
    """Centre lines of a thin place, trimmed at free ends, with the half widths met along them."""

    lines: MultiLineString
    half_width_mm: FloatArray
    at_mm: tuple[float, float]


def centre_line(
    place: BaseGeometry,
    target: BaseGeometry,
    *,
    reach_mm: float,
    edge_tolerance_mm: float,
    stop_at: BaseGeometry,
) -> CentreLine | None:
    """Return the centre line of one thin place of the target.

    Parameters
    ----------
    place : BaseGeometry
        The part of the target that the plain opening loses, in mm.
    target : BaseGeometry
        The target around it, at least 3 reach beyond the place.
    reach_mm : float
        Radius of what is finished round one beam position, at its largest.
    edge_tolerance_mm : float
        How far a tapering end may be widened; its line ends where it would need more.
    stop_at : BaseGeometry
        Beam centres of the plain opening: the centre line ends where it meets them.

    Returns
    -------
    CentreLine or None
        At free ends the line stops one reach short of the stroke's end, so that the finished end
        lies flush with the drawn one; a place shorter than that becomes one short dash. None
        where the place is a mere corner between two strokes and has no centre line.
    """
    edge = target.boundary.intersection(_round_about(place, 2.6 * reach_mm))
    ridges = _ridges(edge, place, target, reach_mm).difference(stop_at)
    gauge = _Gauge(edge, place, reach_mm, edge_tolerance_mm)
    kept = [line for line in _branches(ridges, gauge, stop_at) if line.length > 0]
    if not kept:
        if not stop_at.is_empty and stop_at.distance(place) < 2 * reach_mm:
            return None
        kept = [_dash(place, _DASH * reach_mm)]
    samples = np.concatenate([_along(line, reach_mm / 8) for line in kept])
    half = gauge.half_width_mm(samples)
    typical = int(np.argsort(half)[len(half) // 2])
    return CentreLine(
        lines=MultiLineString(kept),
        half_width_mm=half,
        at_mm=(float(samples[typical, 0]), float(samples[typical, 1])),
    )


def _round_about(place: BaseGeometry, distance_mm: float) -> BaseGeometry:
    """Return all within about a distance of a place, to 2 % of it: its curves matter little."""
    return shapely.simplify(place, distance_mm / 100).buffer(distance_mm, quad_segs=8)


class _Gauge:
    """Measures half widths: distances to the target's edge near one thin place."""

    def __init__(
        self, edge: BaseGeometry, place: BaseGeometry, reach_mm: float, edge_tolerance_mm: float
    ) -> None:
        self.corners = shapely.get_coordinates(place.exterior)
        self.place = place.buffer(_CHORD_MM, quad_segs=2)
        shapely.prepare(self.place)
        self.tree = shapely.STRtree(chords_of(edge))
        self.reach_mm = reach_mm
        self.edge_tolerance_mm = edge_tolerance_mm

    def half_width_mm(self, points: FloatArray) -> FloatArray:
        """Return the distance from each point to the edge."""
        found = self.tree.query_nearest(
            shapely.points(points), return_distance=True, all_matches=False
        )
        return np.asarray(found[1], dtype=np.float64)

    def to_tip(self, line: LineString, *, at_start: bool) -> LineString:
        """Lengthen a free end to the tip of a point: ridges give out where a point gets thin.

        A blunt end, whose corners are hardly farther than its sides, stays as it is.
        """
        xy = shapely.get_coordinates(line)
        end = xy[0] if at_start else xy[-1]
        # The last ridges zigzag: the direction is taken over half a reach.
        back = min(line.length, self.reach_mm / 2)
        inner = shapely.get_coordinates(line.interpolate(back if at_start else -back))[0]
        reaches = self.corners - end
        away = np.hypot(*reaches.T)
        onward = (end - inner) / np.hypot(*(end - inner))
        ahead = reaches @ onward > _ONWARD * away
        ahead &= away > _POINTED * float(self.half_width_mm(end[None])[0])
        for k in np.flatnonzero(ahead)[np.argsort(-away[ahead])]:
            link = LineString([end, self.corners[k]])
            if self.place.covers(link):
                tip = self.corners[k]
                return LineString(np.vstack([tip, xy] if at_start else [xy, tip]))
        return line

    def cut_mm(self, line: LineString, *, at_start: bool) -> float:
        """Return how much to trim off a free end.

        One reach from the stroke's end at least; and where the stroke tapers, as far as the
        widening would exceed both the tolerance and what the stroke needs elsewhere.
        """
        points = _along(line if at_start else shapely.reverse(line), self.reach_mm / 12)
        half = self.half_width_mm(points)
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
        flush = max(0.0, self.reach_mm - half[0])
        enough = min(0.95 * float(np.median(half)), self.reach_mm - self.edge_tolerance_mm)
        wide = np.flatnonzero(half >= enough)
        # An end that is thinner than the rest, but no point, is as good a stroke as the rest.
        is_point = half[0] < enough / 2
        taper = float(along[wide[0]]) if is_point and len(wide) else 0.0
        # A long point is followed until what is left of it counts as a corner, not as lost.
        return float(max(flush, min(taper, 2.9 * self.reach_mm)))


def _ridges(
    edge: BaseGeometry, place: BaseGeometry, target: BaseGeometry, reach_mm: float
) -> BaseGeometry:
    """Return the facing ridges of a thin place; of a hairline, those of it drawn thicker.

    A hairline asks for samples as close as it is wide, tens of thousands of them; grown a little
    on both sides it has the same centre line and asks for few.
    """
    if 2 * place.area / max(place.length, 1e-9) > _HAIRLINE * reach_mm:
        return _facing_ridges(edge, place, target, reach_mm)
    grow = _THICKER * reach_mm
    thick, around = place.buffer(grow), target.buffer(grow)
    thick_edge = around.boundary.intersection(_round_about(thick, 2.6 * reach_mm))
    found = _facing_ridges(thick_edge, thick, around, reach_mm)
    # What is lost of a neck hardly too thin is thin too, though the neck itself is not.
    return _facing_ridges(edge, place, target, reach_mm) if found.is_empty else found


def _facing_ridges(
    edge: BaseGeometry, place: BaseGeometry, target: BaseGeometry, reach_mm: float
) -> BaseGeometry:
    """Return Voronoi ridges between facing boundary points, in and round the thin place."""
    width = 2 * place.area / max(place.length, 1e-9)
    spacing = float(np.clip(0.25 * width, reach_mm / 50, reach_mm / 6))
    samples = _each_once(np.round(_along(edge, spacing), 7))[0]
    if len(samples) < 4:
        return MultiLineString()
    try:
        diagram = Voronoi(samples)
    except QhullError:
        return MultiLineString()
    pairs = np.array(diagram.ridge_vertices)
    bounded = (pairs >= 0).all(axis=1)
    ends, sites = diagram.vertices[pairs[bounded]], diagram.ridge_points[bounded]
    # Where four samples lie on one circle the diagram has its vertex twice, a hair apart.
    vertices, same = _each_once(np.round(ends.reshape(-1, 2), _VERTEX_DECIMALS))
    ridges = same.reshape(-1, 2)
    distinct = ridges[:, 0] != ridges[:, 1]
    ridges, sites = ridges[distinct], sites[distinct]
    ends = vertices[ridges]
    chord = np.hypot(*(samples[sites[:, 0]] - samples[sites[:, 1]]).T)
    radius = np.hypot(*(ends.mean(axis=1) - samples[sites[:, 0]]).T)
    facing = chord / (2 * np.maximum(radius, 1e-9))
    # Ridge by ridge: one that strays over the edge at a thin tip must not take others with it.
    shapely.prepare(target)
    ridge = facing > _HARDLY_FACING
    ridge[ridge] = shapely.contains_xy(target, *ends[ridge].reshape(-1, 2).T).reshape(-1, 2).all(1)
    lines, ridges, ends, facing, radius = (
        shapely.linestrings(ends[ridge]),
        ridges[ridge],
        ends[ridge],
        facing[ridge],
        radius[ridge],
    )
    if not len(lines):
        return MultiLineString()
    inside = _round_about(place, 1.3 * reach_mm)
    shapely.prepare(inside)
    here = (radius < 1.02 * reach_mm) & shapely.contains_properly(inside, lines)
    kept = _without_corners(ridges, here, is_weak=facing <= _FACING)
    return shapely.line_merge(shapely.union_all(lines[kept])) if kept.any() else MultiLineString()


def _each_once(points: FloatArray) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return points sorted, each once, and which of those each was."""
    once, which = np.unique(points[:, 0] + 1j * points[:, 1], return_inverse=True)
    return np.column_stack([once.real, once.imag]), which.reshape(-1)


def _without_corners(
    ridges: NDArray[np.int64], here: NDArray[np.bool_], *, is_weak: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Drop the branches into corners: weak ridges that lead nowhere.

    Weak ridges between others stay, for there the centre line itself turns sharply. Ridges that
    are not `here` are not wanted, but what leads to them leads on.
    """
    kept = here.copy()
    while True:
        degree = np.bincount(ridges[kept | ~here].ravel(), minlength=int(ridges.max()) + 1)
        leads_nowhere = kept & is_weak & (degree[ridges] == 1).any(axis=1)
        if not leads_nowhere.any():
            return kept
        kept &= ~leads_nowhere


def _along(line: BaseGeometry, spacing_mm: float) -> FloatArray:
    """Return points along a line at most `spacing_mm` apart, its vertices included."""
    return np.asarray(shapely.get_coordinates(shapely.segmentize(line, spacing_mm)), dtype=float)


def _branches(ridges: BaseGeometry, gauge: _Gauge, stop_at: BaseGeometry) -> list[LineString]:
    """Drop spurs and fragments, trim free ends, join to the beam centres."""
    merged = shapely.line_merge(ridges) if not ridges.is_empty else ridges
    pieces = [
        piece
        for piece in shapely.get_parts(merged)
        if piece.geom_type == "LineString" and piece.length > 0
    ]
    pieces = _without_spurs(pieces, gauge, stop_at)
    pieces = _without_fragments(pieces, gauge.reach_mm, stop_at)
    degree = _degrees(pieces)
    finished = [_finish(piece, degree, gauge, stop_at) for piece in pieces]
    if not finished:
        return []
    merged = shapely.line_merge(MultiLineString(finished))
    return [shapely.simplify(line, _EXACT_MM) for line in shapely.get_parts(merged)]


def _degrees(pieces: list[LineString]) -> dict[tuple[float, float], int]:
    """Count how many branches end at each place."""
    degree: dict[tuple[float, float], int] = {}
    for piece in pieces:
        for end in _ends(piece):
            degree[end] = degree.get(end, 0) + 1
    return degree


def _ends(piece: LineString) -> tuple[tuple[float, float], tuple[float, float]]:
    xy = shapely.get_coordinates(piece)
    first, last = (tuple(np.round(xy[k], 6)) for k in (0, -1))
    return (float(first[0]), float(first[1])), (float(last[0]), float(last[1]))


def _without_spurs(
    pieces: list[LineString], gauge: _Gauge, stop_at: BaseGeometry
) -> list[LineString]:
    """Drop short twigs that hang on a junction with a free other end.

    A twig's finished end reaches its length and half its width from the junction, which is itself
    finished one reach round: what adds less than a quarter of that is not worth a line.
    """
    reach_mm = gauge.reach_mm
    for _ in range(3):
        degree = _degrees(pieces)
        kept = []
        for piece in pieces:
            first, last = (degree[end] for end in _ends(piece))
            is_twig = min(first, last) == 1 and max(first, last) > 2
            free = _ends(piece)[0] if first == 1 else _ends(piece)[1]
            if not is_twig or piece.length > _TWIG * reach_mm:
                kept.append(piece)
                continue
            joins = stop_at.distance(Point(free)) < 0.2 * reach_mm
            gains = piece.length + float(gauge.half_width_mm(np.array([free]))[0])
            if joins or gains > _TWIG * reach_mm:
                kept.append(piece)
        if len(kept) == len(pieces):
            return kept
        merged = shapely.line_merge(shapely.union_all(kept))
        pieces = list(shapely.get_parts(merged))
    return pieces


def _without_fragments(
    pieces: list[LineString], reach_mm: float, stop_at: BaseGeometry
) -> list[LineString]:
    """Drop short bits that hang on nothing, such as leftovers of a branch into a corner."""
    groups = [
        [pieces[k] for k in members] for members in _connected([_ends(piece) for piece in pieces])
    ]
    lengths = [sum(piece.length for piece in group) for group in groups]
    kept = [
        group
        for group, length in zip(groups, lengths, strict=True)
        if length >= reach_mm or any(stop_at.distance(piece) < 0.35 * reach_mm for piece in group)
    ]
    if not kept and groups:
        kept = [groups[int(np.argmax(lengths))]]
    return [piece for group in kept for piece in group]


def _connected(ends: list[tuple[tuple[float, float], tuple[float, float]]]) -> list[list[int]]:
    """Group lines that share ends; returns their indices."""
    group_of: dict[tuple[float, float], int] = {}
    members: dict[int, list[int]] = {}
    for k, pair in enumerate(ends):
        met = {group_of[end] for end in pair if end in group_of}
        home = min(met, default=k)
        members.setdefault(home, []).append(k)
        for other in met - {home}:
            members[home] += members.pop(other)
        for line in members[home]:
            for end in ends[line]:
                group_of[end] = home
    return list(members.values())


def _finish(
    piece: LineString,
    degree: dict[tuple[float, float], int],
    gauge: _Gauge,
    stop_at: BaseGeometry,
) -> LineString:
    """Trim the free ends of a branch, or join them to the beam centres they lead to."""
    line, free = piece, []
    for at_start, end in zip((True, False), _ends(piece), strict=True):
        if degree[end] > 1:
            continue
        gap = np.inf if stop_at.is_empty else stop_at.distance(Point(end))
        if gap < 0.35 * gauge.reach_mm:
            line = _joined(line, Point(end), stop_at, at_start=at_start)
            continue
        free.append(at_start)
        longer = shapely.get_coordinates(gauge.to_tip(piece, at_start=at_start))
        if len(longer) > shapely.get_num_coordinates(piece):
            xy = shapely.get_coordinates(line)
            line = LineString(
                np.vstack([longer[0], xy]) if at_start else np.vstack([xy, longer[-1]])
            )
    cuts = {
        at_start: gauge.cut_mm(line, at_start=at_start) if at_start in free else 0.0
        for at_start in (True, False)
    }
    return _trimmed(line, cuts[True], cuts[False], _DASH * gauge.reach_mm)


def _trimmed(line: LineString, start_cut: float, end_cut: float, dash_mm: float) -> LineString:
    """Cut a line at both ends; of one that is too short for that, leave a short dash."""
    length = line.length
    if start_cut + end_cut < length * 0.98:
        return _between(line, start_cut, length - end_cut)
    middle = length * (start_cut / (start_cut + end_cut))
    half = min(length / 2, dash_mm / 2)
    return _between(line, max(0.0, middle - half), min(length, middle + half))


def _between(line: LineString, start_mm: float, end_mm: float) -> LineString:
    """Return what of a line lies between two lengths along it."""
    xy = shapely.get_coordinates(line)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    # An end that is not cut stays the very point at which other lines meet it.
    ends = np.array([start_mm, end_mm if end_mm < line.length else along[-1]])
    inner = (along > ends[0]) & (along < ends[1])
    first, last = np.column_stack([np.interp(ends, along, column) for column in xy.T])
    return LineString(np.vstack([first, xy[inner], last]))


def _joined(line: LineString, tip: Point, stop_at: BaseGeometry, *, at_start: bool) -> LineString:
    """Lengthen a branch to the nearest beam centre of the plain opening."""
    link = shapely.shortest_line(tip, stop_at)
    goal = shapely.get_coordinates(link)[-1]
    xy = shapely.get_coordinates(line)
    xy = np.vstack([goal, xy]) if at_start else np.vstack([xy, goal])
    return LineString(xy)


def _dash(place: BaseGeometry, dash_mm: float) -> LineString:
    """Return a short dash at the middle of a place too small to have a centre line."""
    circle = shapely.maximum_inscribed_circle(place)
    x, y = shapely.get_coordinates(circle)[0]
    return LineString([(x - dash_mm / 2, y), (x + dash_mm / 2, y)])
