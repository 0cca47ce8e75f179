"""Who shows what: the coats' claims on the artwork, each place to one coat.

What is named explicitly (a fill, an id, a class) goes before what is meant by its tone (`dark`),
and that before what is left (`rest`). White belongs to nobody only where it is the bare page.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.errors import PlanError
from stopout.job.record import Coat, Shows
from stopout.planning.signs.grid import difference, intersection, on_grid, partition, union
from stopout.values import Drawing, DrawnShape

WHITE = "#ffffff"
# Claims that share less than this meet along an edge.
_SHARED_MM2 = 0.01
# The shapes tell all that is dark where they differ from it by less than this share.
_UNTOLD = 1e-3
_NAMED = ("fill", "id", "class")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Overlap:
    """Two coats that name the same part of the artwork; the first of them gets it."""

    first: int
    second: int
    region: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Claims:
    """What the reader is to see of each coat, as seen: disjoint regions on the grid."""

    shown: tuple[BaseGeometry, ...]
    overlaps: tuple[Overlap, ...]


def claims_of(coats: Sequence[Coat], drawing: Drawing, face: BaseGeometry) -> Claims:
    """Share the artwork out to the coats.

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
    Claims
        Of two coats that name the same part the earlier gets it.

    Raises
    ------
    PlanError
        If a coat does not say what it shows, or names what the artwork does not hold.
    """
    asked = [_shows(coat, number) for number, coat in enumerate(coats, start=1)]
    meant = [_meant(shows, drawing, number) for number, shows in enumerate(asked, start=1)]
    layers, dark = _layers(drawing)
    faces, lies_in = partition([face, *layers])
    on_face = lies_in[0]
    claimed = np.zeros((len(coats), len(faces)), dtype=bool)
    for k, shows in enumerate(asked):
        of = dark if shows.kind == "dark" else meant[k]
        if of:
            claimed[k] = lies_in[1:][of].any(axis=0) & on_face
    owner = _owners(asked, claimed)
    owner[~on_face] = -1
    shown = tuple(union(list(faces[owner == k])) for k in range(len(coats)))
    named = [k for k, shows in enumerate(asked) if shows.kind in _NAMED]
    return Claims(shown=shown, overlaps=tuple(_overlaps(named, claimed, faces)))


def _owners(asked: Sequence[Shows], claimed: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return which coat each face of the partition goes to; -1 where none shows it."""
    home = _home_of_the_page(asked)
    owner = np.full(claimed.shape[1], -1 if home is None else home, dtype=np.int64)
    # What is named goes before what is dark, and of the named the earlier coat before the later.
    named = [k for k, shows in enumerate(asked) if shows.kind in _NAMED]
    toned = [k for k, shows in enumerate(asked) if shows.kind == "dark"]
    for k in [*toned[::-1], *named[::-1]]:
        owner[claimed[k]] = k
    return owner


def _home_of_the_page(asked: Sequence[Shows]) -> int | None:
    """Return which coat shows what nobody names: `rest`, else one that names white."""
    kinds = [shows.kind for shows in asked]
    if "rest" in kinds:
        return kinds.index("rest")
    whites = [k for k, shows in enumerate(asked) if shows == Shows(kind="fill", value=WHITE)]
    return whites[0] if whites else None


def _layers(drawing: Drawing) -> tuple[list[BaseGeometry], list[int]]:
    """Return the regions that part the artwork, and which of them are dark.

    Whole shapes are dark or not, so that their edges are exactly those of their neighbours; where
    the shapes do not tell all that is dark, its region itself is one more.
    """
    layers = [shape.region for shape in drawing.shapes]
    regions = [on_grid(region) for region in layers]
    whole = on_grid(drawing.dark)
    dark = [
        k for k, region in enumerate(regions) if intersection(region, whole).area > region.area / 2
    ]
    told = union([regions[k] for k in dark])
    if difference(whole, told).area + difference(told, whole).area > _UNTOLD * whole.area:
        return [*layers, drawing.dark], [len(layers)]
    return layers, dark


def _overlaps(
    named: Sequence[int], claimed: NDArray[np.bool_], faces: NDArray[np.object_]
) -> list[Overlap]:
    found = []
    for a, b in combinations(named, 2):
        both = union(list(faces[claimed[a] & claimed[b]]))
        if both.area > _SHARED_MM2:
            found.append(Overlap(first=a + 1, second=b + 1, region=both))
    return found


def _shows(coat: Coat, number: int) -> Shows:
    if coat.shows is None:
        raise PlanError(f'coat {number} does not say what it shows; add shows = "dark" or "rest"')
    return coat.shows


def _meant(shows: Shows, drawing: Drawing, number: int) -> list[int]:
    """Return which shapes a coat names; none for `dark` and `rest`."""
    if shows.kind == "dark" and drawing.dark.is_empty:
        raise PlanError(
            f"coat {number} shows what is dark, but nothing in {drawing.file} is dark at the "
            'job\'s threshold; name a fill instead: shows = { fill = "#rrggbb" }'
        )
    if shows.kind not in _NAMED:
        return []
    found = [k for k, shape in enumerate(drawing.shapes) if _is_meant(shape, shows)]
    if not found:
        raise PlanError(_nothing_has_it(shows, drawing, number))
    if shows.kind == "fill":
        return found
    # White among other colours cuts counters out of what is meant.
    return [k for k in found if drawing.shapes[k].fill != WHITE] or found


def _is_meant(shape: DrawnShape, shows: Shows) -> bool:
    if shows.kind == "fill":
        return shape.fill == shows.value.lower()
    if shows.kind == "class":
        return shows.value in shape.classes
    # A shape with the id, or in a group that has it.
    return shape.ident == shows.value or f"#{shows.value}" in shape.classes


def _nothing_has_it(shows: Shows, drawing: Drawing, number: int) -> str:
    areas: Counter[str] = Counter()
    for shape in drawing.shapes:
        areas[shape.fill] += float(shape.region.area)  # type: ignore[assignment]
    known = ", ".join(fill for fill, _ in areas.most_common(8))
    return (
        f"coat {number} shows {shows.kind} {shows.value!r}, but no visible shape of "
        f"{drawing.file} has it; the colours seen there are {known or 'not named'}"
    )
