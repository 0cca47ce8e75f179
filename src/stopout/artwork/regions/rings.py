"""From rings and a fill rule to a valid region, with nothing lost on the way."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.crossings import crossings
from stopout.artwork.regions.curves import ComplexArray
from stopout.artwork.regions.halves import pieces_of
from stopout.artwork.regions.nested import fill_nested
from stopout.errors import ArtworkError

FillRule = Literal["nonzero", "evenodd"]
_Grid = np.ndarray[tuple[int, int], np.dtype[np.int64]]
_Faces = np.ndarray[tuple[int], np.dtype[np.object_]]
EMPTY = MultiPolygon()
# The clipping library counts in whole numbers: 1 nm.
GRID_MM = 1e-6
_LARGEST_MM = 1e6
# Filled in 10 s or so: by the even-odd rule every crossing leaves a face of its own.
_MOST_CROSSINGS = {"nonzero": 6_000_000, "evenodd": 200_000}
# Fewer points cannot cross so often that it takes long.
_FEW = 600


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
    nested = fill_nested([as_xy(ring) for ring in closed], evenodd=rule == "evenodd")
    return _by_clipper(closed, rule) if nested is None else nested


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
    grids = [np.rint(as_xy(ring) / GRID_MM).astype(np.int64) for ring in rings]
    grids = [grid for grid in grids if _twice_area_bound(grid) > 0]
    if not grids:
        return EMPTY
    _check_crossings(grids, rule)
    pieces = pieces_of(grids)
    if len(pieces) == 1:
        return _filled(grids, rule)
    # Pieces overlap by a step of the grid, so that no slit is left between them.
    wider = np.array([-1, -1, 1, 1])
    parts = [
        shapely.intersection(
            _filled(piece.rings, rule), shapely.box(*(piece.box + wider) * GRID_MM)
        )
        for piece in pieces
    ]
    return only_areas(shapely.union_all(parts))


def _check_crossings(grids: Sequence[_Grid], rule: FillRule) -> None:
    """Refuse what would take longer than anybody waits."""
    if sum(map(len, grids)) < _FEW:
        return
    found, most = crossings(grids), _MOST_CROSSINGS[rule]
    if found > most:
        raise ArtworkError(
            f"an outline, or the edges of a stroke, cross in about {_roughly(found)} places, more "
            f"than the {_roughly(most)} that can be filled in a reasonable time; draw it with "
            "fewer points, or as several shapes"
        )


def _roughly(number: int) -> str:
    return f"{number / 1e6:.0f} million" if number >= 2e6 else f"{round(number, -4):,}"


def _filled(grids: Sequence[_Grid], rule: FillRule) -> BaseGeometry:
    import pyclipper

    clipper = pyclipper.Pyclipper()
    added = False
    for grid in grids:
        try:
            clipper.AddPath(grid.tolist(), pyclipper.PT_SUBJECT, True)
            added = True
        except pyclipper.ClipperException:
            # Raised for a ring that has no area on the grid, such as a line there and back.
            if abs(Polygon(grid * GRID_MM).area) > 1e-9:
                at = grid[0] * GRID_MM
                raise ArtworkError(
                    f"an outline near ({at[0]:.3f}, {at[1]:.3f}) mm of the page could not be "
                    "resolved; draw it without self-crossings"
                ) from None
    if not added:
        return EMPTY
    kind = pyclipper.PFT_NONZERO if rule == "nonzero" else pyclipper.PFT_EVENODD
    # Flat contours: outer ones run to the left, holes to the right, so the region lies on the left.
    return _enclosed([np.array(path) for path in clipper.Execute(pyclipper.CT_UNION, kind, kind)])


def _twice_area_bound(grid: np.ndarray[tuple[int, int], np.dtype[np.int64]]) -> int:
    span = grid.max(axis=0) - grid.min(axis=0)
    return int(span[0]) * int(span[1])


def _enclosed(contours: Sequence[_Grid]) -> BaseGeometry:
    """Return the region to the left of contours that may touch themselves and each other.

    Mending polygons that touch in thousands of places and joining them two by two grows with the
    square of the places; cutting the contours where they touch and taking faces, with their number.
    """
    contours = [contour for contour in contours if len(contour) >= 3]
    if not contours:
        return EMPTY
    lines = shapely.unary_union([shapely.linearrings(contour * GRID_MM) for contour in contours])
    faces = shapely.get_parts(shapely.polygonize([lines]))
    kept = faces[_are_left(faces, contours)]
    return only_areas(shapely.coverage_union_all(kept)) if len(kept) else EMPTY


def _are_left(
    faces: _Faces, contours: Sequence[_Grid]
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell which faces between contours lie to the left of the contours that bound them."""
    known = np.vstack([np.hstack([ends, np.roll(ends, -1, axis=0)]) for ends in contours])
    outlines = shapely.get_exterior_ring(shapely.orient_polygons(faces))
    points, of_face = shapely.get_coordinates(outlines, return_index=True)
    grid = np.rint(points / GRID_MM).astype(np.int64)
    inner = of_face[1:] == of_face[:-1]
    edges, of_face = np.hstack([grid[:-1], grid[1:]])[inner], of_face[1:][inner]
    votes = np.zeros(len(faces), dtype=int)
    np.add.at(votes, of_face, _among(edges, known).astype(int))
    np.subtract.at(votes, of_face, _among(edges[:, [2, 3, 0, 1]], known).astype(int))
    left = votes > 0
    # Every edge of such a face was cut anew where contours touch between their vertices.
    for place in np.flatnonzero(votes == 0):
        left[place] = _is_odd(faces[place].representative_point(), known)
    return left


def _among(edges: _Grid, known: _Grid) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell which (x, y, x, y) rows stand among others."""
    row = np.dtype((np.void, 4 * np.dtype(np.int64).itemsize))
    there = set(np.ascontiguousarray(known).view(row).ravel().tolist())
    asked = np.ascontiguousarray(edges).view(row).ravel().tolist()
    return np.fromiter((edge in there for edge in asked), dtype=bool, count=len(asked))


def _is_odd(point: Point, edges: _Grid) -> bool:
    """Tell whether a ray from a point crosses an odd number of edges."""
    x, y = point.x / GRID_MM, point.y / GRID_MM
    ax, ay, bx, by = edges.T.astype(float)
    spans = (ay > y) != (by > y)
    at = ax[spans] + (y - ay[spans]) * (bx[spans] - ax[spans]) / (by[spans] - ay[spans])
    return bool(np.count_nonzero(at > x) % 2)


def noded(region: BaseGeometry) -> BaseGeometry:
    """Put a region on a grid of 1 nm, with a vertex wherever its rings touch.

    A region whose rings touch between vertices becomes invalid as soon as a shift rounds its
    coordinates; one whose rings touch only at shared vertices stays valid.
    """
    try:
        gridded = shapely.set_precision(region, GRID_MM)
    except shapely.GEOSException:
        # What later paint leaves of a region may be a sliver that crosses itself by a rounding.
        gridded = shapely.set_precision(shapely.buffer(region, 0.0), GRID_MM)
    # Without this the grid would stick to every result that is made from the region later.
    return only_areas(shapely.set_precision(gridded, 0.0))
