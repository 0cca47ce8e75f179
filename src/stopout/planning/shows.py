"""Coats of a sign: what the reader sees in each, and what is cleared of each.

The reader looks through the clear front and sees, at each point, the first coat that was left
there. So coat k is cleared wherever a later coat is to show.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.errors import PlanError
from stopout.planning.job import Coat, Shows
from stopout.values import Drawing, DrawnShape

__all__ = ["Method", "effective", "front_view", "shown_by_coats"]

# Each coat cleared by itself once it has dried, or all coats that are there at once.
Method = Literal["one-by-one", "through"]


def shown_by_coats(
    coats: Sequence[Coat], drawing: Drawing, face: BaseGeometry
) -> list[BaseGeometry]:
    """Return what the reader is to see of each coat, as seen.

    Parameters
    ----------
    coats : sequence of Coat
        From the viewer backwards; each with `shows`.
    drawing : Drawing
        The artwork on the blank, as seen.
    face : BaseGeometry
        The blank's face, as seen.

    Returns
    -------
    list of BaseGeometry
        Disjoint regions: what an earlier coat claims, a later one does not get.

    Raises
    ------
    PlanError
        If a coat's `shows` finds nothing in the artwork.
    """
    claims = [_claimed(coat.shows, drawing, number) for number, coat in enumerate(coats, start=1)]
    named = shapely.union_all([claim for claim in claims if claim is not None])
    shown: list[BaseGeometry] = []
    taken: BaseGeometry = Polygon()
    for claim in claims:
        region = face.difference(named) if claim is None else claim.intersection(face)
        region = region.difference(taken)
        shown.append(region)
        taken = shapely.union_all([taken, region])
    return shown


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
        below = below if region is None else below.union(region)
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
    open_so_far, seen = face, []
    for region in cleared:
        if region is None:
            seen.append(open_so_far)
            open_so_far = Polygon()
        else:
            seen.append(open_so_far.difference(region))
            open_so_far = open_so_far.intersection(region)
    return seen


def _has_id(shape: DrawnShape, ident: str) -> bool:
    """Tell whether a shape has this id, or lies in a group that has."""
    return shape.ident == ident or f"#{ident}" in shape.classes


def _claimed(shows: Shows | None, drawing: Drawing, number: int) -> BaseGeometry | None:
    """Return the artwork that a coat claims; None for `rest`."""
    if shows is None:
        raise PlanError(f'coat {number} does not say what it shows; add shows = "dark" or "rest"')
    if shows.kind == "rest":
        return None
    if shows.kind == "dark":
        return drawing.dark
    regions = [
        shape.region
        for shape in drawing.shapes
        if (shows.kind == "fill" and shape.fill == shows.value.lower())
        or (shows.kind == "id" and _has_id(shape, shows.value))
        or (shows.kind == "class" and shows.value in shape.classes)
    ]
    if not regions:
        known = sorted({shape.fill for shape in drawing.shapes})
        raise PlanError(
            f"coat {number} shows {shows.kind} {shows.value!r}, but no shape of "
            f"{drawing.file} has it; its fills are {', '.join(known) or 'not named'}"
        )
    return shapely.union_all(regions)
