"""Coats of a sign: what is gone of each in the end, and what the reader then sees of each.

The reader looks through the clear front and sees, at each point, the first coat that was left
there. So coat k is cleared wherever a later coat is to show.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.planning.signs.grid import difference, intersection, on_grid, union

# Each coat cleared by itself once it has dried, or all coats that are there at once.
Method = Literal["one-by-one", "through"]
METHODS: tuple[Method, ...] = ("one-by-one", "through")


def effective(cleared: Sequence[BaseGeometry | None], method: Method) -> list[BaseGeometry | None]:
    """Return what is gone of each coat in the end.

    Parameters
    ----------
    cleared : sequence of BaseGeometry or None
        What was cleared after each coat had dried, from the viewer backwards.
    method : str
        "one-by-one": of that coat alone; "through": of all coats that were there by then.
    """
    if method == "one-by-one":
        return list(cleared)
    gone: list[BaseGeometry | None] = []
    below: BaseGeometry = Polygon()
    for region in reversed(cleared):
        below = below if region is None else union([below, region])
        gone.append(None if below.is_empty else below)
    return gone[::-1]


def front_view(face: BaseGeometry, cleared: Sequence[BaseGeometry | None]) -> list[BaseGeometry]:
    """Return where each coat is seen through the front: the first one that was left at a point.

    Parameters
    ----------
    face : BaseGeometry
        The blank's face.
    cleared : sequence of BaseGeometry or None
        What was really cleared of each coat, from the viewer backwards; None for nothing. All in
        one frame; the result is in that frame too.
    """
    open_so_far, seen = on_grid(face), []
    for region in cleared:
        if region is None:
            seen.append(open_so_far)
            open_so_far = Polygon()
        else:
            gone = on_grid(region)
            seen.append(difference(open_so_far, gone))
            open_so_far = intersection(open_so_far, gone)
    return seen
