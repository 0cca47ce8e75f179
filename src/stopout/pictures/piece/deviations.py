"""Where outcome and artwork part: which places to ring, which to enlarge."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.clearing.kinds import kinds_of
from stopout.mask.offset import offset_areas, offset_each
from stopout.pictures.piece.scene import CloseUp, PreviewScene
from stopout.planning.verdict import Told
from stopout.values import Finding

Parts = NDArray[np.object_]
Mark = tuple[tuple[float, float, float, float], str, str]  # box, level, message

_SLIVER_MM = 0.003
# So many points are measured at once.
_AT_ONCE = 64
_GATHER_MM = 2.0
_SAME_MM = 0.5
_MOST_RINGED = 12
_MOST_ALIKE = 3
_NARROWEST_MM, _WIDEST_MM = 0.1, 3.0
_PLAINER = 0.02  # of the width tried: it is told to a tenth
_LEAN_MM = 0.0005
_STEP = 1.3  # at most 1 / _EVEN, so that no stroke falls between two widths
_EVEN = 0.75  # mean width over the width tried: a taper to a point has 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class OffRing:
    """A numbered ring on the outcome: the box it goes around, as worked, and what it says."""

    number: int
    box_mm: tuple[float, float, float, float]
    level: str
    message: str


def noticeable(deviation: BaseGeometry) -> BaseGeometry:
    """A deviation without slivers thinner than 6 um, which chords and sweeps leave along edges."""
    parts, core = _deep(deviation)
    grown = shapely.buffer(core, 1.5 * _SLIVER_MM, quad_segs=2)
    return _together(shapely.get_parts(shapely.intersection(parts, grown)))


def worst_place(scene: PreviewScene) -> CloseUp | None:
    """The point that strays farthest from the artwork's edge, lost parts left out."""
    outside = _farthest(scene.too_much, scene.target)
    inside = _farthest(_without(scene.too_little, scene.lost), scene.finished)
    distance, at, side = max((*outside, "outside"), (*inside, "inside"))
    if distance < _SLIVER_MM:
        return None
    caption = f"{distance * 1000:.0f} µm {side} the artwork"
    return CloseUp(at_mm=at, caption=caption, span_mm=float(np.clip(6 * distance, 0.6, 4.0)))


def thinnest_place(
    target: BaseGeometry, *, elsewhere_than: CloseUp | None = None, least_mm: float = 0.0
) -> CloseUp | None:
    """The thinnest stroke of the artwork, to about a tenth of its width.

    A width is wider than some stroke when opening by it leaves behind more than the crumbs of
    corners and the ends of tapers: a piece longer than twice the width and nearly as wide. Of
    several equally thin strokes the longest is taken that another enlargement does not show. No
    stroke is thinner than `least_mm`, as measured: the search begins there.
    """
    parts = _unlike(shapely.get_parts(target))
    width = _NARROWEST_MM
    while width * _STEP <= min(least_mm, _WIDEST_MM):
        width *= _STEP
    strokes, owners = _left_by_opening(parts, width)
    while not len(strokes) and len(parts) and width < _WIDEST_MM:
        width *= _STEP
        strokes, owners = _left_by_opening(parts, width)
    if not len(strokes):
        return None
    finer = width / _STEP**0.5
    thinner, _ = _left_by_opening(parts[owners], finer)
    if len(thinner):
        width, strokes = finer, thinner
    length = shapely.length(strokes)
    if elsewhere_than is not None:
        is_shown = shapely.dwithin(strokes, shapely.Point(elsewhere_than.at_mm), _GATHER_MM)
        length = np.where(is_shown, length / 1000, length)
    at = shapely.point_on_surface(strokes[int(np.argmax(length))])
    caption = f"thinnest stroke drawn, about {width:.2f} mm wide"
    return CloseUp(at_mm=(at.x, at.y), caption=caption, span_mm=max(0.6, 4 * width))


def rings(scene: PreviewScene) -> tuple[OffRing, ...]:
    """Numbered rings, the gravest first.

    They go around the findings that have a place, many alike taken together, and around lost and
    widened places that no finding tells of.
    """
    gather = max(_GATHER_MM, 0.03 * max(scene.width_mm, scene.height_mm))
    marks = _told(scene, gather)
    told = shapely.union_all([shapely.box(*mark[0]) for mark in marks])
    for kind, region in (("lost", scene.lost), ("widened", scene.widened)):
        # Compared so that the distance to nothing, which is NaN, counts as far.
        groups = [g for g in _gathered(region, gather) if not g.distance(told) <= _SAME_MM]
        shown = sorted(groups, key=lambda group: -group.area)[:_MOST_RINGED]
        is_cut = len(groups) > len(shown)
        more = f" The {len(shown)} largest of {len(groups)} places." if is_cut else ""
        marks += [(group.bounds, kind, _PLAIN[kind] + more) for group in _in_reading_order(shown)]
    # Numbered as they are told: the gravest first, and within a level in the verdict's own order.
    order = {told_in_full(f): k for k, f in reversed(list(enumerate(scene.findings)))}
    marks.sort(key=lambda mark: (severity(mark[1]), order.get(mark[2], len(order))))
    return tuple(
        OffRing(number=k + 1, box_mm=box, level=level, message=message)
        for k, (box, level, message) in enumerate(marks)
    )


def severity(level: str) -> int:
    """Rank of a level for sorting, the gravest first."""
    return ("stop", "lost", "caution", "widened", "note").index(level)


def told_in_full(finding: Finding | Told) -> str:
    """Message and remedy as sentences of one line."""
    message = finding.message.strip()
    if message and message[-1] not in ".!?":
        message += "."
    return f"{message} {finding.remedy}".strip()


_PLAIN = {
    "lost": "Too thin to be made: missing from the piece.",
    "widened": "Wider than drawn by more than the tolerance.",
}


def _told(scene: PreviewScene, gather_mm: float) -> list[Mark]:
    """Marks of the findings that have a place, each grown to the deviation that it tells of."""
    deviations = shapely.get_parts([scene.lost, scene.widened])
    tree = shapely.STRtree(deviations)
    placed = [finding for finding in scene.findings if finding.at_mm is not None]
    count = Counter(finding.message for finding in placed)
    kinds: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in placed:
        # One finding about several places keeps its own words.
        own = finding.message if count[finding.message] > 1 else ""
        kinds.setdefault((finding.code, finding.level.value, own), []).append(finding)
    marks: list[Mark] = []
    for (_, level, own), alike in kinds.items():
        spots = shapely.points([finding.at_mm for finding in alike])
        boxes = []
        for spot in spots:
            meant = deviations[tree.query(spot, predicate="dwithin", distance=_SAME_MM)]
            boxes.append(shapely.union_all([spot, *shapely.envelope(meant)]).bounds)
        texts = [told_in_full(finding) for finding in alike]
        if len(alike) > _MOST_ALIKE:
            if not own:
                texts = [f"{len(alike)} places alike. The first of them: {texts[0]}"] * len(alike)
            around = shapely.buffer(shapely.box(*np.transpose(boxes)), 0.01, quad_segs=1)
            groups = sorted(_gathered(shapely.union_all(around), gather_mm), key=lambda g: -g.area)
            boxes = [group.bounds for group in _in_reading_order(groups[:_MOST_RINGED])]
        marks += [(box, level, message) for box, message in zip(boxes, texts, strict=False)]
    return marks


def _in_reading_order(groups: list[BaseGeometry]) -> list[BaseGeometry]:
    return sorted(groups, key=lambda group: (-group.bounds[3], group.bounds[0]))


def _gathered(region: BaseGeometry, gather_mm: float) -> list[BaseGeometry]:
    """Parts nearer to each other than a ring is wide, taken together."""
    if region.is_empty:
        return []
    parts = shapely.get_parts(region)
    near = shapely.union_all(shapely.buffer(shapely.envelope(parts), gather_mm / 2, quad_segs=2))
    groups = shapely.get_parts(near)
    owner = shapely.STRtree(groups).query_nearest(parts, all_matches=False)[1]
    return [_together(parts[owner == k]) for k in range(len(groups))]


def _without(region: BaseGeometry, lost: BaseGeometry) -> BaseGeometry:
    if lost.is_empty:
        return region
    parts = shapely.get_parts(region)
    shapely.prepare(lost)
    return _together(parts[~shapely.intersects(parts, lost)])


def _together(parts: Parts) -> BaseGeometry:
    """Parts as one region without dissolving them."""
    return shapely.MultiPolygon([part for part in parts if part.geom_type == "Polygon"])


def _farthest(region: BaseGeometry, other: BaseGeometry) -> tuple[float, tuple[float, float]]:
    """The vertex of a region outside another that lies farthest from it, and how far.

    No edge is farther than its ends: points are asked in the order of the nearest corner, until
    none that is left can lie farther.
    """
    from scipy.spatial import cKDTree

    points = shapely.get_coordinates(_deep(region)[0])
    if not len(points) or other.is_empty:
        return 0.0, (0.0, 0.0)
    edges = shapely.multilinestrings(shapely.get_rings(shapely.get_parts(other)))
    shapely.prepare(edges)
    most, _ = cKDTree(shapely.get_coordinates(edges)).query(points)
    order = np.argsort(-most, kind="stable")
    distance = np.full(len(points), -1.0)
    for start in range(0, len(points), _AT_ONCE):
        some = order[start : start + _AT_ONCE]
        # A nanometre of room: the two distances are rounded each in its way.
        if most[some[0]] < distance.max() - 1e-6:
            break
        distance[some] = shapely.distance(edges, shapely.points(points[some]))
    k = int(np.argmax(distance))
    x, y = points[k]
    return float(distance[k]), (float(x), float(y))


def _unlike(parts: Parts) -> Parts:
    """Parts without those that are the same as two others but for their place: a panel's are."""
    if not len(parts):
        return parts
    kind = np.array(kinds_of(parts.tolist())[0], dtype=np.intp)
    ends = [np.unique(order, return_index=True)[1] for order in (kind, kind[::-1])]
    kept: Parts = parts[np.union1d(ends[0], len(parts) - 1 - ends[1])]
    return kept


def _left_by_opening(parts: Parts, width: float) -> tuple[Parts, NDArray[np.intp]]:
    """Long pieces of the parts that are narrower than `width`, and the parts that have any."""
    # A circle has a hundred times the vertices that a width to a tenth needs.
    plain = shapely.simplify(parts, _PLAINER * width)
    core = offset_each(plain, -width / 2, chords=2)
    opened = offset_areas(core, 0.54 * width, chords=2)
    rest, owner = shapely.get_parts(shapely.difference(plain, opened), return_index=True)
    length = shapely.length(rest) / 2 - width
    is_stroke = (length > 2 * width) & (shapely.area(rest) > _EVEN * length * width)
    return rest[is_stroke], np.unique(owner[is_stroke])


def _deep(deviation: BaseGeometry) -> tuple[Parts, Parts]:
    """Parts that are more than slivers, thinned a little, and their cores."""
    parts = shapely.get_parts(deviation)
    # Nine of ten are too small to hold a disc, which is told without an offset.
    parts = parts[shapely.area(parts) >= np.pi * _SLIVER_MM**2]
    parts = shapely.simplify(parts, _LEAN_MM, preserve_topology=False)
    core = shapely.buffer(parts, -_SLIVER_MM, quad_segs=2)
    is_deep = ~shapely.is_empty(core)
    return parts[is_deep], core[is_deep]
