"""The finished piece as predicted, held against the artwork."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stopout.errors import PlanError
from stopout.outcome.advance import advance
from stopout.outcome.farthest import Farthest, Outline, beyond, farthest
from stopout.outcome.fill import as_region

# An edge is known to about 1 um; what exceeds a limit by less does not exceed it.
_SLACK_MM = 1e-3
# By docs/reference/plan-json.md: what lies within this of the finished region is not lost.
_LOST_BEYOND_MM = 0.005
# How far a lost piece must reach (docs/reference/plan-json.md), and a widened one's surroundings.
_REACHES = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """How the predicted piece `P` differs from the target `T`; lengths mm, areas mm^2.

    Attributes
    ----------
    area_mm2
        Area of `P`.
    worst_outside_mm, worst_outside_at
        Largest distance from a point of `P` to `T`, and that point.
    worst_inside_mm, worst_inside_at
        Largest distance from a point of `T`, lost parts excluded, to `P`, and that point.
    worst_outside_unwidened_mm, worst_outside_unwidened_at
        As `worst_outside_mm`, without the points within `widened_parts` grown by 3 reach.
    lost, lost_parts
        Whole parts of `T` that `P` does not touch, and, of the others, components of
        `T \\ (P (+) B(0.005))` with a point farther than 3 reach from `P`.
    merged, merged_parts, filled_holes
        Sum over the parts of `P` of (parts of `T` it touches - 1), none below zero, plus holes
        of `T` that `P` fills; the parts of `P` that touch more than one, and those holes.
    widened, widened_parts
        Components of `P \\ (T (+) B(edge_tolerance))`.
    too_much, too_little
        `P \\ T` and `T \\ P`.
    """

    area_mm2: float
    worst_outside_mm: float
    worst_inside_mm: float
    worst_outside_unwidened_mm: float
    lost: int
    merged: int
    widened: int
    worst_outside_at: tuple[float, float] | None
    worst_inside_at: tuple[float, float] | None
    worst_outside_unwidened_at: tuple[float, float] | None
    too_much: MultiPolygon
    too_little: MultiPolygon
    lost_parts: MultiPolygon
    widened_parts: MultiPolygon
    merged_parts: MultiPolygon
    filled_holes: MultiPolygon


def judge(
    *,
    target: BaseGeometry,
    finished: BaseGeometry,
    reach_mm: float,
    edge_tolerance_mm: float,
) -> Outcome:
    """Hold the finished region against the target, as docs/reference/plan-json.md defines it.

    Parameters
    ----------
    target : Polygon or MultiPolygon
        `T`, as worked.
    finished : Polygon or MultiPolygon
        `P` as `advance` gives it.
    reach_mm : float
        Undercut plus half the larger mark axis.
    edge_tolerance_mm : float
        By how much edges may err.

    Returns
    -------
    Outcome
        Distances at most 1 um too small. A component counts as widened, or as lost, only where it
        exceeds its limit by more than 1 um, which is what the prediction can tell.

    Raises
    ------
    PlanError
        If the target is empty.
    """
    T, P = as_region(target), as_region(finished)
    if T.is_empty:
        raise PlanError("the target is empty, so there is no outcome to judge; give it artwork")
    over = _excess(T, P, reach_mm, edge_tolerance_mm)
    short = _shortfall(T, P, reach_mm)
    merged, merged_parts, filled = _merged(T, P)
    return Outcome(
        area_mm2=float(P.area),
        worst_outside_mm=over.worst.distance_mm,
        worst_outside_at=over.worst.at_mm,
        worst_inside_mm=short.worst.distance_mm,
        worst_inside_at=short.worst.at_mm,
        worst_outside_unwidened_mm=over.unwidened.distance_mm,
        worst_outside_unwidened_at=over.unwidened.at_mm,
        lost=len(short.lost.geoms),
        merged=merged,
        widened=len(over.widened.geoms),
        too_much=over.region,
        too_little=short.region,
        lost_parts=short.lost,
        widened_parts=over.widened,
        merged_parts=merged_parts,
        filled_holes=filled,
    )


def together(outcomes: Sequence[Outcome]) -> Outcome:
    """Return the outcome of a piece whose places, far from one another, were judged by themselves.

    Parameters
    ----------
    outcomes : sequence of Outcome
        One or more; the worst edges are the first that are as bad as any.
    """
    outside = max(outcomes, key=lambda one: one.worst_outside_mm)
    inside = max(outcomes, key=lambda one: one.worst_inside_mm)
    unwidened = max(outcomes, key=lambda one: one.worst_outside_unwidened_mm)
    regions = {
        # Each is sound, and none meets another.
        name: shapely.multipolygons(shapely.get_parts([getattr(one, name) for one in outcomes]))
        for name in (
            "too_much",
            "too_little",
            "lost_parts",
            "widened_parts",
            "merged_parts",
            "filled_holes",
        )
    }
    return Outcome(
        area_mm2=sum(one.area_mm2 for one in outcomes),
        worst_outside_mm=outside.worst_outside_mm,
        worst_outside_at=outside.worst_outside_at,
        worst_inside_mm=inside.worst_inside_mm,
        worst_inside_at=inside.worst_inside_at,
        worst_outside_unwidened_mm=unwidened.worst_outside_unwidened_mm,
        worst_outside_unwidened_at=unwidened.worst_outside_unwidened_at,
        lost=sum(one.lost for one in outcomes),
        merged=sum(one.merged for one in outcomes),
        widened=sum(one.widened for one in outcomes),
        **regions,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Excess:
    region: MultiPolygon
    worst: Farthest
    unwidened: Farthest
    widened: MultiPolygon


def _excess(T: MultiPolygon, P: MultiPolygon, reach_mm: float, tolerance_mm: float) -> _Excess:
    """What `P` has beyond `T`."""
    region = as_region(shapely.difference(P, T))
    outline = Outline(T)
    worst = farthest(region, outline)
    limit = tolerance_mm + _SLACK_MM
    widened = MultiPolygon()
    if worst.distance_mm > limit:
        widened = beyond(region, T, limit)
    unwidened = worst
    if not widened.is_empty:
        around = advance(widened, _REACHES * reach_mm)
        unwidened = farthest(as_region(shapely.difference(region, around)), outline)
    return _Excess(region=region, worst=worst, unwidened=unwidened, widened=widened)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Shortfall:
    region: MultiPolygon
    worst: Farthest
    lost: MultiPolygon


def _shortfall(T: MultiPolygon, P: MultiPolygon, reach_mm: float) -> _Shortfall:
    """What `P` lacks of `T`."""
    parts = shapely.get_parts(T)
    touched = np.zeros(len(parts), dtype=bool)
    touched[shapely.STRtree(parts).query(shapely.get_parts(P), predicate="intersects")[1]] = True
    whole, kept = parts[~touched], shapely.multipolygons(parts[touched])
    left = as_region(shapely.difference(kept, P))
    region = as_region([*whole, *left.geoms])
    if not touched.any():
        return _Shortfall(region=region, worst=Farthest(), lost=as_region(whole))
    outline = Outline(P)
    worst = farthest(left, outline)
    limit = max(_REACHES * reach_mm, _LOST_BEYOND_MM) + _SLACK_MM
    if worst.distance_mm <= limit:
        return _Shortfall(region=region, worst=worst, lost=as_region(whole))
    far = [
        piece
        for piece in beyond(left, P, _LOST_BEYOND_MM).geoms
        if farthest(piece, outline).distance_mm > limit
    ]
    worst = farthest(as_region(shapely.difference(left, shapely.union_all(far))), outline)
    return _Shortfall(region=region, worst=worst, lost=as_region([*whole, *far]))


def _merged(T: MultiPolygon, P: MultiPolygon) -> tuple[int, MultiPolygon, MultiPolygon]:
    """How many parts of the target have run together, which, and which holes are filled."""
    parts, pieces = shapely.get_parts(T), shapely.get_parts(P)
    touching = shapely.STRtree(parts).query(pieces, predicate="intersects")[0]
    count = np.bincount(touching, minlength=len(pieces))
    filled = _filled_holes(parts, P)
    joined = int(np.maximum(count - 1, 0).sum())
    return joined + len(filled), as_region(pieces[count > 1]), MultiPolygon(filled)


def _filled_holes(parts: NDArray[np.object_], P: MultiPolygon) -> list[Polygon]:
    """Holes of the target, less the parts that lie in them, of which nothing is left."""
    holes = [Polygon(ring) for part in parts for ring in part.interiors]
    if not holes or P.is_empty:
        return []
    lands = np.array(holes, dtype=object)
    which, island = shapely.STRtree(parts).query(lands, predicate="contains")
    for i in np.unique(which):
        lands[i] = shapely.difference(lands[i], shapely.union_all(parts[island[which == i]]))
    shapely.prepare(P)
    # A hole with one point left open is not filled; few are left to be looked at closely.
    maybe = lands[shapely.intersects(P, shapely.point_on_surface(lands))]
    return [land for land in maybe if _is_nothing(shapely.difference(land, P))]


def _is_nothing(left: BaseGeometry) -> bool:
    """True where only slivers thinner than an edge is known remain."""
    parts = shapely.get_parts(left)
    return bool((2 * shapely.area(parts) <= _SLACK_MM * shapely.length(parts)).all())
