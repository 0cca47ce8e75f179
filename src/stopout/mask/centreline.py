"""The centre line of a thin place: the medial axis of the target between its two edges.

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
from shapely.ops import substring

from stopout.values import FloatArray

__all__ = ["CentreLine", "centre_line"]

# Two boundary points face each other where the chord between them is nearly a diameter:
# 0.8 leaves out the branches into corners of 90 degrees (0.71) and keeps tapers under 73.
_FACING = 0.8
# How far the chords of a centre line may stand off the medial axis.
_CHORD_MM = 0.0005


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CentreLine:
    """Centre lines of a thin place, trimmed at free ends, with the half widths met along them."""

    lines: MultiLineString
    half_width_mm: FloatArray
    at_mm: tuple[float, float]


def centre_line(
    place: BaseGeometry, target: BaseGeometry, *, reach_mm: float, stop_at: BaseGeometry
) -> CentreLine:
    """Return the centre line of one thin place of the target.

    Parameters
    ----------
    place : BaseGeometry
        The part of the target that the plain opening loses, in mm.
    target : BaseGeometry
        The target around it.
    reach_mm : float
        Radius of what is finished round one beam position, at its largest.
    stop_at : BaseGeometry
        Beam centres of the plain opening: the centre line ends where it meets them.

    Returns
    -------
    CentreLine
        At free ends the line stops one reach short of the stroke's end, so that the finished end
        lies flush with the drawn one; a place shorter than that becomes one short dash.
    """
    around = place.buffer(2.6 * reach_mm)
    edge = target.boundary.intersection(around)
    lines = _facing_ridges(edge, place, reach_mm)
    lines = lines.difference(stop_at)
    branches = _branches(lines, target, reach_mm, stop_at)
    edge_tree = shapely.STRtree(_pieces(edge))
    kept = [line for line in branches if line.length > 0]
    if not kept:
        kept = [_dash(place)]
    samples = np.concatenate([_along(line, reach_mm / 8) for line in kept])
    half = edge_tree.query_nearest(
        shapely.points(samples), return_distance=True, all_matches=False
    )[1]
    narrow = int(np.argsort(half)[len(half) // 2])
    return CentreLine(
        lines=MultiLineString(kept),
        half_width_mm=np.asarray(half, dtype=np.float64),
        at_mm=(float(samples[narrow, 0]), float(samples[narrow, 1])),
    )


def _pieces(edge: BaseGeometry) -> NDArray[np.object_]:
    """Return the boundary as two-point lines for nearest queries."""
    chords = []
    for line in shapely.get_parts(edge):
        xy = shapely.get_coordinates(line)
        if len(xy) > 1:
            chords.append(np.stack([xy[:-1], xy[1:]], axis=1))
    return np.asarray(shapely.linestrings(np.concatenate(chords)), dtype=object)


def _facing_ridges(edge: BaseGeometry, place: BaseGeometry, reach_mm: float) -> BaseGeometry:
    """Return Voronoi ridges between facing boundary points, in and round the thin place."""
    width = 2 * place.area / max(place.length, 1e-9)
    spacing = float(np.clip(0.25 * width, 0.002, reach_mm / 6))
    samples = np.unique(
        np.round(
            np.concatenate(
                [_along(line, spacing) for line in shapely.get_parts(edge) if line.length > 0]
            ),
            7,
        ),
        axis=0,
    )
    if len(samples) < 4:
        return MultiLineString()
    try:
        diagram = Voronoi(samples)
    except QhullError:
        return MultiLineString()
    ridges = np.asarray(diagram.ridge_vertices)
    sites = np.asarray(diagram.ridge_points)
    finite = (ridges >= 0).all(axis=1)
    ridges, sites = ridges[finite], sites[finite]
    ends = diagram.vertices[ridges]
    chord = np.linalg.norm(samples[sites[:, 0]] - samples[sites[:, 1]], axis=1)
    radius = np.linalg.norm(ends.mean(axis=1) - samples[sites[:, 0]], axis=1)
    kept = (chord > 2 * _FACING * radius) & (radius < 1.02 * reach_mm)
    lines = shapely.linestrings(ends[kept])
    if not len(lines):
        return MultiLineString()
    inside = place.buffer(1.3 * reach_mm)
    shapely.prepare(inside)
    lines = lines[shapely.contains_properly(inside, lines)]
    return shapely.line_merge(shapely.union_all(lines)) if len(lines) else MultiLineString()


def _along(line: BaseGeometry, spacing_mm: float) -> FloatArray:
    """Return points along a line at most `spacing_mm` apart, its vertices included."""
    return np.asarray(shapely.get_coordinates(shapely.segmentize(line, spacing_mm)), dtype=float)


def _branches(
    lines: BaseGeometry, target: BaseGeometry, reach_mm: float, stop_at: BaseGeometry
) -> list[LineString]:
    """Keep the ridges inside the target, drop spurs, trim free ends, join to the beam centres."""
    shapely.prepare(target)
    merged = shapely.line_merge(lines) if not lines.is_empty else lines
    pieces = [
        piece
        for piece in shapely.get_parts(merged)
        if piece.geom_type == "LineString" and piece.length > 0 and target.contains(piece)
    ]
    pieces = _without_spurs(pieces, reach_mm, stop_at)
    degree: dict[tuple[float, float], int] = {}
    for piece in pieces:
        for end in _ends(piece):
            degree[end] = degree.get(end, 0) + 1
    boundary = target.boundary
    finished = [_finish(piece, degree, boundary, reach_mm, stop_at) for piece in pieces]
    if not finished:
        return []
    merged = shapely.line_merge(MultiLineString(finished))
    return [shapely.simplify(line, _CHORD_MM) for line in shapely.get_parts(merged)]


def _ends(piece: LineString) -> tuple[tuple[float, float], tuple[float, float]]:
    xy = shapely.get_coordinates(piece)
    first, last = (tuple(np.round(xy[k], 6)) for k in (0, -1))
    return (float(first[0]), float(first[1])), (float(last[0]), float(last[1]))


def _without_spurs(
    pieces: list[LineString], reach_mm: float, stop_at: BaseGeometry
) -> list[LineString]:
    """Drop short twigs that hang on a junction with a free other end."""
    for _ in range(3):
        degree: dict[tuple[float, float], int] = {}
        for piece in pieces:
            for end in _ends(piece):
                degree[end] = degree.get(end, 0) + 1
        kept = []
        for piece in pieces:
            first, last = (degree[end] for end in _ends(piece))
            is_twig = min(first, last) == 1 and max(first, last) > 2
            free = _ends(piece)[0] if first == 1 else _ends(piece)[1]
            joins = stop_at.distance(Point(free)) < 0.2 * reach_mm
            if not (is_twig and piece.length < reach_mm and not joins):
                kept.append(piece)
        if len(kept) == len(pieces):
            return kept
        merged = shapely.line_merge(shapely.union_all(kept))
        pieces = list(shapely.get_parts(merged))
    return pieces


def _finish(
    piece: LineString,
    degree: dict[tuple[float, float], int],
    boundary: BaseGeometry,
    reach_mm: float,
    stop_at: BaseGeometry,
) -> LineString:
    """Trim the free ends of a branch, or join them to the beam centres they lead to."""
    line = piece
    start_cut = end_cut = 0.0
    for at_start, end in zip((True, False), _ends(piece), strict=True):
        if degree[end] > 1:
            continue
        tip = Point(end)
        gap = stop_at.distance(tip) if not stop_at.is_empty else np.inf
        if gap < 0.35 * reach_mm:
            line = _joined(line, tip, stop_at, at_start=at_start)
            continue
        cut = max(0.0, reach_mm - boundary.distance(tip))
        if at_start:
            start_cut = cut
        else:
            end_cut = cut
    length = line.length
    if start_cut + end_cut >= length * 0.98:
        middle = length * (start_cut / (start_cut + end_cut))
        half = min(length / 2, 0.01)
        start, stop = max(0.0, middle - half), min(length, middle + half)
    else:
        start, stop = start_cut, length - end_cut
    return substring(line, start, stop)


def _joined(line: LineString, tip: Point, stop_at: BaseGeometry, *, at_start: bool) -> LineString:
    """Lengthen a branch to the nearest beam centre of the plain opening."""
    link = shapely.shortest_line(tip, stop_at)
    goal = shapely.get_coordinates(link)[-1]
    xy = shapely.get_coordinates(line)
    xy = np.vstack([goal, xy]) if at_start else np.vstack([xy, goal])
    return LineString(xy)


def _dash(place: BaseGeometry) -> LineString:
    """Return a short dash at the middle of a place too small to have a centre line."""
    circle = shapely.maximum_inscribed_circle(place)
    x, y = shapely.get_coordinates(circle)[0]
    return LineString([(x - 0.01, y), (x + 0.01, y)])
