"""The drawing as drawn held against the predicted piece, part by part.

Other than `judge`, which measures edges, this asks what a reader asks: is each part there, whole
and in one piece, with its counters open, and apart from its neighbours? Neither what was planned
nor why is known here: only the drawing and the predicted region.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stopout.outcome.advance import advance
from stopout.outcome.farthest import Outline, farthest
from stopout.outcome.fill import as_region

Kind = Literal["gone", "piece gone", "split", "counter closed", "counter opened", "merged"]

# A part of which less than this is there is gone, though its neighbour may reach into it.
_GONE = 0.2
# A missing piece counts from this share of its part on; less is a rounded corner (our own choice).
_SHARE = 0.06
# A stroke's end counts from this many reaches on, whatever its share.
_REACHES = 3.0
# What is missing beside a sound edge: the prediction knows an edge no better.
_EDGE_MM = 0.005
# A piece of a split part counts from this share of the part on.
_CRUMB = 0.02
# A point is no more than this of its own length wide: its tip is missing in any method.
_TAPER = 0.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Change:
    """One part of the drawing that a reader finds changed.

    Attributes
    ----------
    kind
        What became of it: `gone` altogether, `piece gone`, `split` into several, `counter closed`
        or `counter opened` to the outside, `merged` with others.
    part
        Index of the part among the drawing's parts; of several that merged, the first.
    others
        Indices of the parts that it merged with.
    region
        What is missing; for `split` and `merged` what was made, for a counter the counter.
    share
        Missing area over the part's area.
    """

    kind: Kind
    part: int
    region: BaseGeometry
    others: tuple[int, ...] = ()
    share: float = 0.0

    @property
    def at_mm(self) -> tuple[float, float]:
        """A point of the region."""
        point = self.region.representative_point()
        return (float(point.x), float(point.y))


def changed_parts(
    drawn: BaseGeometry, made: BaseGeometry, *, reach_mm: float, edge_tolerance_mm: float
) -> tuple[Change, ...]:
    """Tell which parts of a drawing are lost, broken, closed or merged in what is made of it.

    Parameters
    ----------
    drawn : Polygon or MultiPolygon
        The drawing; each polygon is a part, such as a letter.
    made : Polygon or MultiPolygon
        What the piece will show of it, in the same frame.
    reach_mm : float
        Radius below which nothing sharp is made: corners may be short by that much.
    edge_tolerance_mm : float
        How far edges may err.

    Returns
    -------
    tuple of Change
        In the order of the parts. A part may appear more than once.
    """
    D, M = as_region(drawn), as_region(made)
    parts, pieces = shapely.get_parts(D), shapely.get_parts(M)
    if not len(parts):
        return ()
    touch = _Touching(parts, pieces)
    found = [
        *_missing(parts, pieces, touch, reach_mm, max(edge_tolerance_mm, _EDGE_MM)),
        *_counters(parts, pieces, touch),
        *_merged(parts, pieces, touch),
    ]
    return tuple(sorted(found, key=lambda change: change.part))


class _Touching:
    """Which pieces reach into which parts."""

    def __init__(self, parts: NDArray[np.object_], pieces: NDArray[np.object_]) -> None:
        none = np.zeros(0, dtype=np.intp)
        self.piece, self.part = none, none
        if len(pieces):
            # The pieces are prepared, and may have very many vertices.
            self.piece, self.part = shapely.STRtree(parts).query(pieces, predicate="intersects")

    def pieces_of(self, part: int) -> NDArray[np.intp]:
        """Indices of the pieces that reach into a part."""
        found: NDArray[np.intp] = self.piece[self.part == part]
        return found

    def parts_of(self, piece: int) -> NDArray[np.intp]:
        """Indices of the parts into which a piece reaches."""
        found: NDArray[np.intp] = self.part[self.piece == piece]
        return found


def _missing(
    parts: NDArray[np.object_],
    pieces: NDArray[np.object_],
    touch: _Touching,
    reach_mm: float,
    edge_mm: float,
) -> Iterator[Change]:
    """Parts that are gone, that lack a piece, or that fall into several."""
    for k, part in enumerate(parts):
        near = pieces[touch.pieces_of(k)]
        if not len(near):
            yield Change(kind="gone", part=k, region=part, share=1.0)
            continue
        around = _window(part, 4 * reach_mm)
        here = shapely.intersection(near, around)
        whole = here[0] if len(here) == 1 else shapely.union_all(here)
        left = shapely.get_parts(shapely.difference(part, whole))
        if part.area - shapely.area(left).sum() < _GONE * part.area:
            yield Change(kind="gone", part=k, region=part, share=1.0)
            continue
        least = min(reach_mm**2, _SHARE * part.area)
        yield from _piece_gone(k, part, whole, left[shapely.area(left) > least], reach_mm, edge_mm)
        if len(near) > 1 and (change := _split(k, part, near)) is not None:
            yield change


def _piece_gone(
    k: int,
    part: Polygon,
    whole: BaseGeometry,
    left: NDArray[np.object_],
    reach_mm: float,
    edge_mm: float,
) -> Iterator[Change]:
    """A stroke's end, or a share of a letter that a reader misses."""
    gone = []
    for loss in left:
        window = _window(loss, 4 * reach_mm)
        near = as_region(shapely.intersection(whole, window))
        outline = Outline(near)
        for piece in as_region(shapely.difference(loss, advance(near, edge_mm))).geoms:
            is_large = piece.area > _SHARE * part.area
            if not is_large and piece.area < 0.5 * reach_mm**2:
                continue
            far = farthest(as_region(piece), outline).distance_mm
            if far > _REACHES * reach_mm or (is_large and not _is_tip(piece, far)):
                gone.append(piece)
    if gone:
        region = shapely.union_all(gone)
        share = float(region.area / part.area)
        yield Change(kind="piece gone", part=k, region=region, share=share)


def _window(shape: BaseGeometry, wider_mm: float) -> Polygon:
    """The box round a shape, wider on every side."""
    x0, y0, x1, y1 = shape.bounds
    return shapely.box(x0 - wider_mm, y0 - wider_mm, x1 + wider_mm, y1 + wider_mm)


def _is_tip(piece: Polygon, far_mm: float) -> bool:
    """Tell a tapering tip, or a rounded corner, from a stroke's end: it fills half its box."""
    return bool(piece.area < _TAPER * far_mm * far_mm)


def _split(k: int, part: Polygon, near: NDArray[np.object_]) -> Change | None:
    """A part that is made in several pieces, each worth seeing."""
    area = shapely.area(shapely.intersection(near, part))
    seen = near[area > _CRUMB * part.area]
    if len(seen) < 2:
        return None
    return Change(kind="split", part=k, region=MultiPolygon([*as_region(seen).geoms]))


def _counters(
    parts: NDArray[np.object_], pieces: NDArray[np.object_], touch: _Touching
) -> Iterator[Change]:
    """Counters of parts that fill, or that a broken stroke opens."""
    rings, owner = shapely.get_rings(parts, return_index=True)
    is_hole = np.diff(owner, prepend=-1) == 0
    if not is_hole.any() or not len(pieces):
        return
    holes, owner = shapely.polygons(rings[is_hole]), owner[is_hole]
    lands, over = _lands(holes, parts), _Over(parts, pieces)
    filled = shapely.polygons(shapely.get_exterior_ring(pieces))
    piece, hole = shapely.STRtree(holes).query(pieces, predicate="intersects")
    for h in np.flatnonzero(_may_be_changed(holes, lands, owner, touch, filled, over)):
        own = touch.pieces_of(int(owner[h]))
        near = np.intersect1d(piece[hole == h], own)
        free = over.left_of(lands[h], near)
        if free.area < _GONE * 0.25 * lands[h].area:
            yield Change(kind="counter closed", part=int(owner[h]), region=lands[h], share=1.0)
        elif len(near) and not _is_enclosed(free, filled[own]):
            yield Change(kind="counter opened", part=int(owner[h]), region=lands[h])


def _may_be_changed(
    holes: NDArray[np.object_],
    lands: NDArray[np.object_],
    owner: NDArray[np.intp],
    touch: _Touching,
    filled: NDArray[np.object_],
    over: _Over,
) -> NDArray[np.bool_]:
    """Holes that nothing made of their part goes round wholly, or that may be all but covered."""
    round_it, inside = shapely.STRtree(holes).query(filled, predicate="contains")
    pairs = set(zip(touch.piece.tolist(), touch.part.tolist(), strict=True))
    is_own = np.array(
        [pair in pairs for pair in zip(round_it.tolist(), owner[inside].tolist(), strict=True)],
        dtype=bool,
    )
    changed = np.ones(len(holes), dtype=bool)
    changed[inside[is_own]] = False
    land, sliver = over.tree.query(lands)
    covered = np.bincount(land, weights=shapely.area(over.slivers)[sliver], minlength=len(lands))
    area = shapely.area(lands)
    out: NDArray[np.bool_] = changed | (area - covered < _GONE * 0.25 * area)
    out &= np.isin(owner, touch.part)
    return out


def _lands(holes: NDArray[np.object_], parts: NDArray[np.object_]) -> NDArray[np.object_]:
    """Holes less the parts that lie in them."""
    lands = holes.copy()
    which, inside = shapely.STRtree(parts).query(holes, predicate="contains")
    for h in np.unique(which):
        lands[h] = shapely.difference(holes[h], shapely.union_all(parts[inside[which == h]]))
    return lands


class _Over:
    """What pieces are beyond all parts: slivers, where a piece itself may have every vertex."""

    def __init__(self, parts: NDArray[np.object_], pieces: NDArray[np.object_]) -> None:
        left = shapely.difference(pieces, shapely.multipolygons(parts))
        self.slivers, self.piece = shapely.get_parts(left, return_index=True)
        self.tree = shapely.STRtree(self.slivers)

    def left_of(self, land: BaseGeometry, near: NDArray[np.intp]) -> BaseGeometry:
        """A region beside all parts, less what some pieces cover of it."""
        found = self.tree.query(land, predicate="intersects")
        own = self.slivers[found[np.isin(self.piece[found], near)]]
        return shapely.difference(land, shapely.union_all(own))


def _is_enclosed(free: BaseGeometry, filled: NDArray[np.object_]) -> bool:
    """Tell whether what is free of a counter lies in a hole of what is made."""
    largest = max(shapely.get_parts(free), key=lambda part: float(part.area))
    point = largest.representative_point()
    return bool(shapely.contains(filled, point).any())


def _merged(
    parts: NDArray[np.object_], pieces: NDArray[np.object_], touch: _Touching
) -> Iterator[Change]:
    """Parts that one piece joins."""
    count = np.bincount(touch.piece, minlength=len(pieces))
    for piece in np.flatnonzero(count > 1):
        met = sorted(int(k) for k in touch.parts_of(int(piece)))
        yield Change(kind="merged", part=met[0], others=tuple(met[1:]), region=pieces[piece])
