"""Where the predicted piece parts from the artwork: a map, and its worst places enlarged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.planning import CoatPlan, Plan
from stopout.sheet.drawings.pieces import path_data
from stopout.sheet.drawings.sketches import label, sketch
from stopout.sheet.model import Sketch
from stopout.values import FloatArray

# Marks of one kind on the map: more of them would be a carpet.
_MOST_MARKS = 60
# Deviations below this are not marked: a pen line is wider.
_LEAST_MM = 0.01
# Marks are drawn where edges stray by this much more or less: a fiftieth of a pen line.
_PLAINER_MM = 0.002
# Radius of the disc that a mark's place holds at least, once it is simplified.
_CORE_MM = 0.9 * (_LEAST_MM / 2 - _PLAINER_MM)
_GATHER_MM = 1.0
_WINDOW_MM = 41.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mark:
    at_mm: tuple[float, float]
    off_mm: float


def deviation_map(plan: Plan, coat: CoatPlan, *, widest_mm: float) -> Sketch:
    """The piece as worked with a mark wherever its edge strays.

    Parameters
    ----------
    plan : Plan
        For the face.
    coat : CoatPlan
        Whose prediction is shown.
    widest_mm : float
        Room on the paper; the drawing is made smaller where the blank is wider.
    """
    blank, outcome = plan.job.blank, coat.outcome
    scale = min(1.0, widest_mm / blank.width_mm, 95.0 / blank.height_mm)
    # What a beam makes too much is as round as its mark; a drawing's points are not.
    is_round = plan.job.route.has_beam and not plan.job.route.is_lit
    over = _marks(outcome.too_much, coat.target, is_round=is_round)
    short = _marks(outcome.too_little, coat.finished, is_round=False)
    size = 1 / scale
    body = [
        f'<path d="{path_data(plan.face, blank.height_mm)}" fill="#fff" stroke="#000" '
        f'stroke-width="{0.3 * size:.3g}" fill-rule="evenodd"/>',
        f'<path d="{path_data(coat.target, blank.height_mm)}" fill="#d4d6d8" fill-rule="evenodd"/>',
    ]
    for mark in short:
        x, y, r = mark.at_mm[0], blank.height_mm - mark.at_mm[1], _radius(mark.off_mm) * size
        body.append(
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{r:.2f}" fill="#fff" stroke="#000" '
            f'stroke-width="{0.25 * size:.3g}"/>'
        )
    for mark in over:
        x, y, r = mark.at_mm[0], blank.height_mm - mark.at_mm[1], _radius(mark.off_mm) * size
        body.append(
            f'<path d="M{x:.2f} {y - r:.2f}l{r:.2f} {2 * r:.2f}h{-2 * r:.2f}z" fill="#000"/>'
        )
    words = (
        "Black triangles: edge too far out, at most "
        f"{1000 * outcome.worst_outside_mm:.0f}\u00a0µm; "
        f"rings: edge short, at most {1000 * outcome.worst_inside_mm:.0f}\u00a0µm. Larger marks, "
        f"larger misses; below {1000 * _LEAST_MM:.0f}\u00a0µm none. Grey: the artwork, as worked. "
    )
    if max(len(over), len(short)) >= _MOST_MARKS:
        words += f"The {_MOST_MARKS} worst places of a kind only. "
    of = f", coat {coat.number}" if plan.shown else ""
    return sketch(
        f"Where the edge strays{of}",
        words.strip(),
        f"The piece as worked{of} with {len(over)} places too far out and {len(short)} short",
        size_mm=(scale * blank.width_mm, scale * blank.height_mm),
        body=f'<g transform="scale({scale:.5f})">{"".join(body)}</g>',
    )


def _radius(off_mm: float) -> float:
    """Size of a mark on the paper [mm]."""
    return 0.7 + min(1.3, 8.0 * off_mm)


def _marks(deviation: BaseGeometry, other: BaseGeometry, *, is_round: bool) -> list[_Mark]:
    """The farthest points of a deviation from what it strays from, one to a neighbourhood."""
    strays = _plainer(deviation, is_round=is_round)
    # Half of a deviation's corners are the other's.
    points = _without(shapely.get_coordinates(strays), shapely.get_coordinates(other))
    if not len(points) or other.is_empty:
        return []
    edges = _plainer(_beside(strays, other) if is_round else other)
    points = _far_from_corners(points, edges)
    off = _distance(points, edges)
    worst = np.argsort(-off, kind="stable")
    points, off = points[worst], off[worst]
    points = points[: np.searchsorted(-off, -_LEAST_MM, side="right")]
    taken: list[_Mark] = []
    held = np.zeros(len(points), dtype=bool)
    while len(taken) < _MOST_MARKS and not held.all():
        k = int(np.argmin(held))
        taken.append(_Mark(at_mm=(float(points[k, 0]), float(points[k, 1])), off_mm=float(off[k])))
        held |= np.hypot(*(points - points[k]).T) < _GATHER_MM
    return taken


def _plainer(region: BaseGeometry, *, is_round: bool = False) -> Any:
    """A region's parts without corners that a mark's place does not show; specks are left out.

    Of a region that discs made, each point so far from what they were to make that it gets a mark
    lies on a disc half as wide that is of the region too: what holds none has no such point.
    """
    parts = shapely.get_parts(region)
    x0, y0, x1, y1 = shapely.bounds(parts).reshape(-1, 4).T
    large = parts[np.hypot(x1 - x0, y1 - y0) >= _LEAST_MM]
    if is_round:
        # Most are told by their area.
        large = large[shapely.area(large) >= 3 * (_LEAST_MM / 2) ** 2]
    plain = shapely.get_parts(shapely.simplify(large, _PLAINER_MM, preserve_topology=False))
    if is_round:
        plain = plain[~shapely.is_empty(shapely.buffer(plain, -_CORE_MM, quad_segs=2))]
    return plain


def _without(points: FloatArray, others: FloatArray) -> FloatArray:
    """Points that are not among others."""
    own, left = (xy[:, 0] + 1j * xy[:, 1] for xy in (points, others))
    left = np.append(np.sort(left), np.inf)
    kept: FloatArray = points[left[np.searchsorted(left, own)] != own]
    return kept


def _beside(strays: Any, other: BaseGeometry) -> BaseGeometry:
    """The parts of a region that are the nearest to a point of what strays from it."""
    parts = shapely.get_parts(other)
    x0, y0, x1, y1 = shapely.bounds(strays).T
    # Of a stray part that touches the other no point is farther from it than the part is long.
    far = np.hypot(x1 - x0, y1 - y0)
    frames = shapely.box(x0 - far, y0 - far, x1 + far, y1 + far)
    tree = shapely.STRtree(parts)
    touching = tree.query(strays, predicate="intersects")[0]
    if len(np.unique(touching)) < len(strays):
        return other
    return shapely.multipolygons(parts[np.unique(tree.query(frames)[1])])


def _distance(points: FloatArray, parts: Any) -> FloatArray:
    """Distance of each point to the nearest edge of some areas; zero where there is none."""
    tree, off = shapely.STRtree(shapely.get_rings(parts)), np.zeros(len(points))
    (which, _), least = tree.query_nearest(shapely.points(points), return_distance=True)
    off[which] = least
    return off


def _far_from_corners(points: FloatArray, parts: Any) -> FloatArray:
    """Points without those that are for sure too near an edge for a mark: to one of its corners."""
    from scipy.spatial import cKDTree

    corners = shapely.get_coordinates(parts)
    if not len(corners):
        return points
    # A nanometre of room: the two distances are rounded each in its way.
    far: FloatArray = points[cKDTree(corners).query(points)[0] >= _LEAST_MM - 1e-9]
    return far


def enlarged(plan: Plan, coat: CoatPlan) -> tuple[Sketch, ...]:
    """Up to four windows: the two worst misses, the narrowest land, the thinnest stroke."""
    outcome = coat.outcome
    places: list[tuple[str, tuple[float, float] | None, float]] = [
        (f"{1000 * outcome.worst_outside_mm:.0f}\u00a0µm too far out", outcome.worst_outside_at,
         outcome.worst_outside_mm),
        (f"{1000 * outcome.worst_inside_mm:.0f}\u00a0µm short", outcome.worst_inside_at,
         outcome.worst_inside_mm),
        (f"Land {1000 * coat.finished_land_mm:.0f}\u00a0µm wide", coat.narrowest_land_at,
         coat.finished_land_mm),
    ]  # fmt: skip
    if coat.thin_places:
        thin = min(coat.thin_places, key=lambda place: place.narrowest_mm)
        places.append(
            (
                f"Drawn {1000 * thin.narrowest_mm:.0f}, made {1000 * thin.expected_mm:.0f}\u00a0µm",
                thin.at_mm,
                thin.width_mm,
            )
        )
    return tuple(
        _window(plan, coat, title, at, size) for title, at, size in places if at is not None
    )


def _window(
    plan: Plan, coat: CoatPlan, title: str, at: tuple[float, float], size_mm: float
) -> Sketch:
    """A square window of the piece around a place, with a scale bar of its own."""
    span = min(4.0, max(0.8, 6 * size_mm))
    x0, y0 = at[0] - span / 2, at[1] - span / 2
    frame = (x0, y0, x0 + span, y0 + span)
    scale = _WINDOW_MM / span
    dashes = f'stroke-dasharray="{1.2 / scale:.4g} {0.8 / scale:.4g}"'
    body = "".join(
        [
            _window_path(plan.face, frame, 'fill="#f3f3f1"'),
            _window_path(coat.finished, frame, 'fill="#9a9ea2"'),
            _window_path(
                shapely.boundary(coat.opening),
                frame,
                f'fill="none" stroke="#000" stroke-width="{0.25 / scale:.4g}" {dashes}',
            ),
            _window_path(
                shapely.boundary(coat.target),
                frame,
                f'fill="none" stroke="#000" stroke-width="{0.4 / scale:.4g}"',
            ),
        ]
    )
    bar = next(b for b in (1.0, 0.5, 0.2, 0.1, 0.05) if b <= 0.4 * span)
    drawn = (
        f'<svg x="0" y="0" width="{_WINDOW_MM:g}" height="{_WINDOW_MM:g}" '
        f'viewBox="0 0 {span:.5g} {span:.5g}">{body}</svg>'
        f'<rect x="0.2" y="0.2" width="{_WINDOW_MM - 0.4:g}" height="{_WINDOW_MM - 0.4:g}" '
        'fill="none" stroke="#000" stroke-width="0.4"/>'
        f'<path d="M1 {_WINDOW_MM + 2.4:g}h{bar * scale:.2f}" stroke="#000" stroke-width="0.9"/>'
        + label(f"{bar:g} mm", 1 + bar * scale + 1.5, _WINDOW_MM + 3.4)
    )
    return sketch(
        title,
        f"At {at[0]:.1f}, {at[1]:.1f}\u00a0mm as worked; {scale:.0f}\u00a0×.",
        f"{title}: artwork, opening and predicted edge, enlarged",
        size_mm=(_WINDOW_MM, _WINDOW_MM + 4.2),
        body=drawn,
    )


def _window_path(region: BaseGeometry, frame: tuple[float, float, float, float], style: str) -> str:
    """What of a region, or of its edges, lies in a window, in mm from the upper left corner."""
    x0, y0, x1, y1 = frame
    cut = shapely.clip_by_rect(region, x0, y0, x1, y1)
    found = []
    for part in shapely.get_parts(cut):
        lines = shapely.get_rings(part) if part.geom_type == "Polygon" else [part]
        for line in lines:
            points = shapely.get_coordinates(line)
            found.append("M" + "L".join(f"{x - x0:.4f} {y1 - y:.4f}" for x, y in points.tolist()))
    return f'<path d="{"".join(found)}" {style} fill-rule="evenodd"/>' if found else ""
