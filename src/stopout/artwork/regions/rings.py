"""From rings and a fill rule to a valid region, with nothing lost on the way."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.curves import ComplexArray
from stopout.errors import ArtworkError

FillRule = Literal["nonzero", "evenodd"]
EMPTY = MultiPolygon()
# The clipping library counts in whole numbers: 1 nm.
GRID_MM = 1e-6
_LARGEST_MM = 1e6


def fill(rings: Sequence[ComplexArray], rule: FillRule) -> BaseGeometry:
    """Return the region that rings enclose under a fill rule.

    Parameters
    ----------
    rings : sequence of (n,) ndarray of complex
        Vertices in mm; each ring closes by itself. Rings may cross themselves and each other.
    rule : "nonzero" or "evenodd"
        SVG 2, section 13.4.2 (fill-rule).

    Returns
    -------
    Polygon or MultiPolygon
        Valid, maybe empty. Rings without area (fewer than three different points, or straight)
        enclose nothing.

    Raises
    ------
    ArtworkError
        If a vertex is not a finite number or lies farther than 1 km from the origin.
    """
    closed = [_without_repeats(ring) for ring in rings]
    closed = [ring for ring in closed if len(ring) >= 3]
    if not closed:
        return EMPTY
    if any(not np.all(np.abs(ring) < _LARGEST_MM) for ring in closed):
        raise ArtworkError("an outline has a point that is no number or lies beyond 1 km")
    if len(closed) == 1:
        single = Polygon(as_xy(closed[0]))
        if single.is_valid:
            return single
    return _by_clipper(closed, rule)


def as_xy(points: ComplexArray) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return complex points as an (n, 2) array."""
    return np.column_stack([points.real, points.imag])


def only_areas(region: BaseGeometry) -> BaseGeometry:
    """Keep the polygons of a geometry; boundaries that merely touch leave lines and points."""
    if region.is_empty:
        return EMPTY
    if region.geom_type in ("Polygon", "MultiPolygon"):
        return region
    parts = [part for part in shapely.get_parts(region) if part.geom_type.endswith("Polygon")]
    return shapely.union_all(parts) if parts else EMPTY


def _without_repeats(ring: ComplexArray) -> ComplexArray:
    keep = np.ones(len(ring), dtype=bool)
    keep[1:] = ring[1:] != ring[:-1]
    ring = ring[keep]
    return ring[:-1] if len(ring) > 1 and ring[0] == ring[-1] else ring


def _by_clipper(rings: Sequence[ComplexArray], rule: FillRule) -> BaseGeometry:
    import pyclipper

    clipper = pyclipper.Pyclipper()
    added = False
    for ring in rings:
        grid = np.rint(as_xy(ring) / GRID_MM).astype(np.int64)
        if _twice_area_bound(grid) == 0:
            continue
        try:
            clipper.AddPath(grid.tolist(), pyclipper.PT_SUBJECT, True)
            added = True
        except pyclipper.ClipperException:
            # Raised for a ring that has no area on the grid, such as a line there and back.
            if abs(Polygon(as_xy(ring)).area) > 1e-9:
                raise ArtworkError(
                    f"an outline near ({ring[0].real:.3f}, {ring[0].imag:.3f}) mm of the page "
                    "could not be resolved; draw it without self-crossings"
                ) from None
    if not added:
        return EMPTY
    kind = pyclipper.PFT_NONZERO if rule == "nonzero" else pyclipper.PFT_EVENODD
    tree = clipper.Execute2(pyclipper.CT_UNION, kind, kind)
    return _from_tree(tree)


def _twice_area_bound(grid: np.ndarray[tuple[int, int], np.dtype[np.int64]]) -> int:
    span = grid.max(axis=0) - grid.min(axis=0)
    return int(span[0]) * int(span[1])


def _from_tree(tree: object) -> BaseGeometry:
    polygons = []
    queue = list(tree.Childs)  # type: ignore[attr-defined]
    while queue:
        outer = queue.pop()
        holes = outer.Childs
        for hole in holes:
            queue.extend(hole.Childs)
        if len(outer.Contour) < 3:
            continue
        polygons.append(
            Polygon(
                np.asarray(outer.Contour) * GRID_MM,
                [np.asarray(hole.Contour) * GRID_MM for hole in holes if len(hole.Contour) >= 3],
            )
        )
    if not polygons:
        return EMPTY
    # A ring may touch itself or its hole at a point, which shapely calls invalid.
    mended = shapely.make_valid(np.array(polygons, dtype=object))
    return only_areas(shapely.union_all(mended))


def noded(region: BaseGeometry) -> BaseGeometry:
    """Put a region on a grid of 1 nm, with a vertex wherever its rings touch.

    A region whose rings touch between vertices becomes invalid as soon as a shift rounds its
    coordinates; one whose rings touch only at shared vertices stays valid.
    """
    gridded = shapely.set_precision(region, GRID_MM)
    # Without this the grid would stick to every result that is made from the region later.
    return only_areas(shapely.set_precision(gridded, 0.0))


def rings_of(region: BaseGeometry) -> list[np.ndarray[tuple[int, int], np.dtype[np.float64]]]:
    """Return the (n, 2) vertices of every ring of a region, outer ones and holes alike."""
    rings = []
    for part in shapely.get_parts(region):
        if part.geom_type == "Polygon" and not part.is_empty:
            rings += [shapely.get_coordinates(ring) for ring in (part.exterior, *part.interiors)]
    return rings
