"""The plain ways of the overlays of signs: everything laid anew, for each move and over the whole.

What `planning/signs` does part by part, and only where a move may change anything, is held to this.
"""

from __future__ import annotations

import shapely
from shapely import affinity

from stopout.planning.signs.grid import GRID_MM
from stopout.planning.signs.register import moves
from stopout.planning.signs.shows import effective


def overlaid(overlay, region, other):
    """Overlay two regions whole, on the grid."""
    found = overlay(region, other, grid_size=GRID_MM)
    parts = [part for part in shapely.get_parts(found) if part.geom_type.endswith("Polygon")]
    return shapely.union_all(parts, grid_size=GRID_MM)


def front_view(face, cleared):
    """Look through the coats, each laid on what the coats before it let through."""
    opened, seen = face, []
    for region in cleared:
        if region is None:
            seen.append(opened)
            opened = shapely.Polygon()
        else:
            seen.append(overlaid(shapely.difference, opened, region))
            opened = overlaid(shapely.intersection, opened, region)
    return seen


def moved_view(cleared, face, method, move):
    """Look at the front with one clearing moved."""
    coat, dx, dy = move
    moved = [*cleared]
    moved[coat - 1] = affinity.translate(cleared[coat - 1], dx, dy)
    return front_view(face, effective(moved, method))


def wrong_by_move(shown, cleared, face, method, error_mm, moved_mm=None):
    """Return, of each move and coat, where that coat is seen farther off than the error."""
    near = [region.buffer(error_mm, quad_segs=8) for region in shown]
    return {
        (move, coat): overlaid(shapely.difference, view, home)
        for move in moves(cleared, moved_mm or error_mm)
        for coat, (view, home) in enumerate(
            zip(moved_view(cleared, face, method, move), near, strict=True), start=1
        )
    }
