"""Dust or a fault: by a second scan of the piece moved on the glass, or by how one scan shows it.

What lies on the glass stays with the glass when the piece is moved; what belongs to the piece goes
with it. One scan alone tells by brightness: a pinhole is as bright as the bare metal beside it, a
flake of dust rarely is, and a spot that the blur swallows could be either.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from stopout.errors import CouponError
from stopout.scans.inspecting.faults import Fault
from stopout.scans.inspecting.piece import Inspection
from stopout.scans.registering.pose import apply

_LEAST_MOVE_MM = 1.0
_SAME_PLACE_MM = 0.1


def confirmed(first: Inspection, second: Inspection) -> Inspection:
    """Keep of two scans, the piece moved between, the spots that both show at the same place.

    Parameters
    ----------
    first, second : Inspection
        Of the same piece; the first's numbers stay.

    Returns
    -------
    Inspection
        Its spots are certain; those of one scan alone are in `dust`.

    Raises
    ------
    CouponError
        Where the piece lies in both as it did, so that dust on the glass lies the same way too.
    """
    _refuse_unmoved(first, second)
    kept = []
    for one in first.faults:
        if one.offset_mm is not None:
            kept.append(one)
        elif _is_among(one, second.faults, first):
            kept.append(replace(one, certainty="both"))
    alone = [one for one in first.faults if one.offset_mm is None and not _is_in(one, kept)]
    alone += [
        one
        for one in second.faults
        if one.offset_mm is None and not _is_among(one, first.faults, second)
    ]
    return replace(first, faults=tuple(kept), dust=tuple(alone))


def _refuse_unmoved(first: Inspection, second: Inspection) -> None:
    """Dust on the glass must have come to lie elsewhere on the piece, all over it."""
    grid = first.seen.grid
    right, low = grid.columns * grid.pitch_mm, grid.rows * grid.pitch_mm
    shares = np.array([[x, y] for x in (0.1, 0.5, 0.9) for y in (0.1, 0.5, 0.9)])
    places = np.array([grid.left_mm, grid.top_mm]) + shares * [right, -low]
    back = np.linalg.inv(second.edges.matrix)
    moved = apply(np.asarray(back, float), apply(first.edges.matrix, places)) - places
    least = float(np.hypot(*moved.T).min())
    if least < _LEAST_MOVE_MM:
        raise CouponError(
            f"the piece lies in both scans within {least:.1f} mm of the same place, so that dust "
            "on the glass looks like a fault in both; move it by 5 mm or turn it by 90 degrees, "
            "and scan again"
        )


def _is_among(one: Fault, others: Sequence[Fault], found: Inspection) -> bool:
    near = max(_SAME_PLACE_MM, 2 * found.edges.blur_mm, 0.5 * one.diameter_mm)
    return any(
        other.kind == one.kind
        and np.hypot(other.at_mm[0] - one.at_mm[0], other.at_mm[1] - one.at_mm[1]) < near
        for other in others
        if other.offset_mm is None
    )


def _is_in(one: Fault, kept: Sequence[Fault]) -> bool:
    return any(other.at_mm == one.at_mm and other.kind == one.kind for other in kept)
