"""Where a piece differs from its plan: missing clearings, bare spots, edges that stand off.

A place counts only if it lies beyond what a small move of the nearest edge would explain.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.links import linked
from stopout.scans.inspecting.certainty import Certainty, certainty_of_a_spot
from stopout.scans.inspecting.edges import Edges, pieces_of
from stopout.scans.inspecting.raster import coverage
from stopout.scans.inspecting.seen import Seen, expected
from stopout.values import FloatArray, Grey

Kind = Literal["missing", "pinhole", "wide", "narrow", "rim"]

# An edge's move that makes no missing clearing and no pinhole: 30 um, or most of a pixel.
_MOVE_MM = 0.03
_MOVE_PX = 0.75
_MISSING = 0.3
_BARE = 0.2
_NOISES = 6.0
# How far inside the piece's own outline bare spots are looked for.
_RIM_MM = 0.3
_SCATTERS = 4.0
_JOIN_MM = 1.3
_WHOLE = 0.75


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One place that differs from the plan.

    Attributes
    ----------
    kind : str
        `missing` (still covered), `pinhole` (bare, away from openings), `wide` (bare beside an
        opening, or its edges outside their place), `narrow`, or `rim` (bare from the piece's own
        outline inwards, clear of all openings: no fault of the clearing).
    at_mm, box_mm : tuple
        Middle, and x0, y0, x1, y1, as worked.
    part : int
        The nearest opening, counted from 1 in the order of the mask file.
    area_mm2 : float
        Too much or too little that is bare.
    offset_mm : float or None
        Of the edges, outwards positive; None for `missing` and `pinhole`.
    length_mm : float or None
        Of outline that stands off, likewise.
    is_whole : bool
        True where nearly all of the opening is missing.
    certainty : str
        How sure it is no dust: `sure`, `open`, `dust` (more likely than not), or `both` where two
        scans of the moved piece show it.
    """

    kind: Kind
    at_mm: tuple[float, float]
    box_mm: tuple[float, float, float, float]
    part: int
    area_mm2: float
    offset_mm: float | None = None
    length_mm: float | None = None
    is_whole: bool = False
    certainty: Certainty = "sure"

    @property
    def diameter_mm(self) -> float:
        """Of the disc of the same area."""
        return float(2 * np.sqrt(self.area_mm2 / np.pi))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """How far a mm of outline stands off, outwards positive, with the spread along it."""

    at_mm: tuple[float, float]
    part: int
    offset_mm: float
    sd_mm: float


def stand_map(edges: Edges, opening: BaseGeometry) -> tuple[Stand, ...]:
    """Offsets mm by mm of outline, where an edge was found on most of it."""
    parts = _ordered(opening)
    piece = pieces_of(edges.ring, edges.along_mm)
    total = np.bincount(piece)
    count = np.bincount(piece, edges.is_good)
    found = []
    for k in np.flatnonzero(count > 0.5 * total):
        mine = (piece == k) & edges.is_good
        points, off = edges.points_mm[mine], edges.offset_mm[mine]
        x, y = points[len(points) // 2]
        found.append(
            Stand(
                at_mm=(float(x), float(y)),
                part=_nearest_part(parts, x, y) + 1,
                offset_mm=float(off.mean()),
                sd_mm=float(off.std()),
            )
        )
    return tuple(found)


def smallest_spot_mm(blur_mm: float) -> float:
    """Diameter of the smallest bare spot that is told from none, for a Gaussian blur.

    Parameters
    ----------
    blur_mm : float
        Its standard deviation.

    Notes
    -----
    A disc of radius r is seen as 1 - exp(-r^2 / 2 s^2) at its middle: the integral of the Gaussian
    over it.
    """
    return float(2 * blur_mm * np.sqrt(-2 * np.log(1 - _BARE)))


def find_faults(
    seen: Seen, edges: Edges, opening: BaseGeometry, face: BaseGeometry, *, tolerance_mm: float
) -> tuple[Fault, ...]:
    """Find all places that differ from the plan.

    Parameters
    ----------
    seen : Seen
        The scan laid flat.
    edges : Edges
        As laid over.
    opening, face : BaseGeometry
        As planned, in mm as worked.
    tolerance_mm : float
        How far an edge may stand off from where all of them do.

    Returns
    -------
    tuple of Fault
        Missing ones first, then pinholes, wide and narrow ones, rims; each kind by size.
    """
    parts = _ordered(opening)
    pitch = seen.grid.pitch_mm
    move = max(_MOVE_MM, _MOVE_PX * pitch)
    growth, blur = edges.growth_mm, edges.blur_mm
    rim = max(_RIM_MM, 3 * pitch)
    inner = coverage(face.buffer(-rim), seen.grid) > 0.999
    on_face = coverage(face, seen.grid) > 0.999
    lacking = expected(opening, growth - move, blur, seen.grid) - seen.share
    excess = seen.share - expected(opening, growth + move, blur, seen.grid)
    is_missing = (lacking > max(_MISSING, _NOISES * seen.noise)) & on_face
    is_bare = (excess > max(_BARE, _NOISES * seen.noise)) & on_face
    is_bare, is_rim = _parted(is_bare, inner, on_face)
    gap = seen.wanted - seen.share
    found = [
        *_spots(is_missing, gap, seen, parts, growth, blur),
        *_spots(is_bare, -gap, seen, parts, growth, blur, bare=True),
        *(
            # Where it reaches an opening it spoils that opening.
            replace(one, kind="rim", certainty="sure") if one.kind == "pinhole" else one
            for one in _spots(is_rim, -gap, seen, parts, growth, blur, bare=True)
        ),
        *_edges_off(edges, parts, is_missing | is_bare, seen, tolerance_mm),
    ]
    order = {"missing": 0, "pinhole": 1, "wide": 2, "narrow": 3, "rim": 4}
    return tuple(sorted(found, key=lambda one: (order[one.kind], -one.area_mm2)))


def _parted(
    is_bare: NDArray[np.bool_], inner: NDArray[np.bool_], on_face: NDArray[np.bool_]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """What is bare inside, and what reaches inwards from the piece's own outline."""
    import cv2

    band = on_face & ~inner
    _, labels = cv2.connectedComponents(is_bare.astype(np.uint8), connectivity=8)
    from_rim = np.isin(labels, np.unique(labels[band & is_bare])) & is_bare
    return is_bare & inner & ~from_rim, from_rim & inner


def _ordered(opening: BaseGeometry) -> list[BaseGeometry]:
    """The parts in the order of the mask file."""
    parts = list(shapely.get_parts(opening))
    return sorted(parts, key=lambda part: (part.bounds[1], part.bounds[0], part.bounds[2:]))


def _nearest_part(parts: list[BaseGeometry], x: float, y: float) -> int:
    return int(shapely.distance(np.array(parts, dtype=object), shapely.Point(x, y)).argmin())


# --- spots ------------------------------------------------------------------------------------


def _spots(
    mask: NDArray[np.bool_],
    gap: Grey,
    seen: Seen,
    parts: list[BaseGeometry],
    growth: float,
    blur: float,
    *,
    bare: bool = False,
) -> list[Fault]:
    import cv2

    grid, pitch = seen.grid, seen.grid.pitch_mm
    # What blur has parted belongs together.
    reach = max(int(np.ceil(1.5 * blur / pitch)), 1)
    kernel = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    wide = cv2.dilate(mask.astype(np.uint8), kernel)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(wide, connectivity=8)
    found = []
    for k in range(1, count):
        left, top, width, height, _ = stats[k]
        window = (slice(top, top + height), slice(left, left + width))
        inside = labels[window] == k
        mine = inside & mask[window]
        area = float((np.clip(gap[window], 0, None) * inside).sum()) * pitch**2
        # A single pixel that noise or a grain has thrown out is no spot.
        if mine.sum() < 2 and area < 0.5 * pitch**2:
            continue
        rows, columns = np.nonzero(mine)
        at = grid.matrix() @ np.array([columns.mean() + left, rows.mean() + top, 1.0])
        lows = grid.matrix() @ np.array([columns.min() + left - 0.5, rows.max() + top + 0.5, 1.0])
        highs = grid.matrix() @ np.array([columns.max() + left + 0.5, rows.min() + top - 0.5, 1.0])
        part = _nearest_part(parts, at[0], at[1])
        off = np.abs(gap[window][mine])
        sides = (float(highs[0] - lows[0]), float(highs[1] - lows[1]))
        found.append(
            Fault(
                kind=_kind(parts[part], at, growth, blur, mine.sum() * pitch**2, bare=bare),
                at_mm=(float(at[0]), float(at[1])),
                box_mm=(float(lows[0]), float(lows[1]), float(highs[0]), float(highs[1])),
                part=part + 1,
                area_mm2=area,
                is_whole=not bare and area > _WHOLE * _grown_area(parts[part], growth),
                certainty=certainty_of_a_spot(
                    float(np.percentile(off, 95)), area, sides if bare else (0.0, 0.0), blur
                ),
            )
        )
    return found


def _kind(
    part: BaseGeometry, at: FloatArray, growth: float, blur: float, area: float, *, bare: bool
) -> Kind:
    """A bare spot that touches an opening makes it too wide; any other is a pinhole."""
    if not bare:
        return "missing"
    radius = np.sqrt(area / np.pi)
    gap = float(part.distance(shapely.Point(at[0], at[1]))) - growth - radius
    return "wide" if gap < 2 * blur else "pinhole"


def _grown_area(part: BaseGeometry, growth: float) -> float:
    return float(part.area + growth * part.length)


# --- edges ------------------------------------------------------------------------------------


def _edges_off(
    edges: Edges,
    parts: list[BaseGeometry],
    spoilt: NDArray[np.bool_],
    seen: Seen,
    tolerance_mm: float,
) -> list[Fault]:
    """Runs of outline, a mm at least or a whole ring, whose mean offset is more than allowed."""
    use = edges.is_good & ~_near(spoilt, seen, edges.points_mm, 4 * edges.blur_mm)
    piece = pieces_of(edges.ring, edges.along_mm)
    total = np.bincount(piece)
    count = np.bincount(piece, use)
    mean = np.bincount(piece, edges.offset_mm * use) / np.maximum(count, 1)
    told = count > 0.5 * total
    if not told.any():
        return []
    scatter = float(np.median(np.abs(mean[told]))) / 0.6745
    limit = max(tolerance_mm, _SCATTERS * scatter)
    flagged = np.flatnonzero(told & (np.abs(mean) > limit))
    middles = np.column_stack([np.bincount(piece, edges.points_mm[:, k]) / total for k in (0, 1)])
    step = _step_mm(edges)
    found = []
    for group in _groups(flagged, middles, mean):
        mine = np.isin(piece, group)
        points = edges.points_mm[mine]
        length = step * float(mine.sum())
        offset = float(edges.offset_mm[mine & use].mean())
        x, y = points.mean(axis=0)
        low, high = points.min(axis=0), points.max(axis=0)
        some = points[:: max(len(points) // 25, 1)]
        own = np.bincount([_nearest_part(parts, *point) for point in some])
        found.append(
            Fault(
                kind="wide" if offset > 0 else "narrow",
                at_mm=(float(x), float(y)),
                box_mm=(float(low[0]), float(low[1]), float(high[0]), float(high[1])),
                part=int(own.argmax()) + 1,
                area_mm2=abs(offset) * length,
                offset_mm=offset,
                length_mm=length,
            )
        )
    return found


def _near(
    mask: NDArray[np.bool_], seen: Seen, points: FloatArray, reach_mm: float
) -> NDArray[np.bool_]:
    import cv2

    if not mask.any():
        return np.zeros(len(points), bool)
    away = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 3)
    px = np.rint(seen.grid.to_px(points)).astype(int)
    rows = np.clip(px[:, 1], 0, len(away) - 1)
    columns = np.clip(px[:, 0], 0, away.shape[1] - 1)
    return np.asarray(away[rows, columns] * seen.grid.pitch_mm < reach_mm)


def _step_mm(edges: Edges) -> float:
    steps = np.diff(edges.along_mm)
    return float(np.median(steps[steps > 0]))


def _groups(
    flagged: NDArray[np.intp], middles: FloatArray, mean: FloatArray
) -> list[NDArray[np.intp]]:
    """Pieces of outline that lie side by side and stand off the same way."""
    if not len(flagged):
        return []
    at = middles[flagged]
    near = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)) < _JOIN_MM
    same = np.sign(mean[flagged])[:, None] == np.sign(mean[flagged])[None]
    label = linked(len(flagged), *np.nonzero(near & same))
    return [flagged[label == k] for k in range(label.max() + 1)]
