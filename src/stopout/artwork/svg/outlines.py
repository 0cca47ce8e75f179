"""The outline that path data draw: as runs, as chords, and what it encloses.

A drawing is read anew at each save of it, and for each of its blanks: what has not changed since is
kept.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.curves import Affine, ComplexArray, Subpath, flatten, split_quarters
from stopout.artwork.regions.rings import FillRule, fill
from stopout.artwork.svg.attributes import path_data

# So many outlines are kept, none of them of more characters.
_MOST_KEPT, _LONGEST_KEPT = 4000, 100_000


def outline(data: str, *, is_round: bool) -> list[Subpath]:
    """Read normalised path data; the cubics of a round shape are made true."""
    subpaths = path_data(data)
    return [split_quarters(subpath) for subpath in subpaths] if is_round else subpaths


def chords(subpaths: list[Subpath]) -> list[ComplexArray]:
    """Chords to a millionth of the largest run, for lengths and boxes."""
    spans = [float(np.ptp(sub.nodes.real) + np.ptp(sub.nodes.imag)) for sub in subpaths]
    fine = max(max(spans, default=0.0) * 1e-6, 1e-12)
    return [flatten(sub, tolerance=fine) for sub in subpaths]


def filled(
    data: str, to_page: Affine, tolerance_mm: float, rule: FillRule, *, is_round: bool
) -> tuple[BaseGeometry, int]:
    """Fill an outline.

    Parameters
    ----------
    data : str
        Normalised path data.
    to_page : Affine
        Its map to mm of the page.
    tolerance_mm : float
        Largest distance between a curve and its chords.
    rule : str
        `nonzero` or `evenodd`.
    is_round : bool
        Whether it is a circle, an ellipse or a rectangle, or may be one.

    Returns
    -------
    region : BaseGeometry
        In mm of the page.
    points : int
        Of how many it was made.
    """
    if len(data) > _LONGEST_KEPT:
        return _made(data, to_page, tolerance_mm, rule, is_round)
    found, points = _kept(data, to_page, tolerance_mm, rule, is_round)
    return shapely.from_wkb(found), points


# What was moved has the same data.
_kept_outline = lru_cache(maxsize=_MOST_KEPT)(outline)


def _made(
    data: str, to_page: Affine, tolerance_mm: float, rule: FillRule, is_round: bool
) -> tuple[BaseGeometry, int]:
    read = outline if len(data) > _LONGEST_KEPT else _kept_outline
    rings = [
        flatten(run.through(to_page), tolerance=tolerance_mm)
        for run in read(data, is_round=is_round)
    ]
    return fill(rings, rule), sum(map(len, rings))


@lru_cache(maxsize=_MOST_KEPT)
def _kept(
    data: str, to_page: Affine, tolerance_mm: float, rule: FillRule, is_round: bool
) -> tuple[bytes, int]:
    """Do what `_made` does; as bytes, for a region that is prepared is shared by no two."""
    region, points = _made(data, to_page, tolerance_mm, rule, is_round)
    return shapely.to_wkb(region), points
