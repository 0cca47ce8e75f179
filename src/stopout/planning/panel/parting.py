"""Coats that were planned side by side, taken apart: they lie on a panel unequally often."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from stopout.clearing import ALONE
from stopout.job.record import Job
from stopout.planning.panel.joining import LaidCoat, join_coats
from stopout.planning.panel.whole import Together
from stopout.planning.plan import CoatPlan


def may_be_parted(coat: CoatPlan) -> bool:
    """Tell whether nothing is said of a coat's pieces that could be another's."""
    made = coat.outcome
    return not (made.lost or made.merged or made.widened) and (
        coat.clearing is None or not coat.clearing.dots
    )


def parted(made: Together, job: Job) -> Sequence[Together]:
    """Take apart what was planned together, each of it as if it were planned alone.

    Parameters
    ----------
    made : Together
        Of which `may_be_parted` holds.
    job : Job
        Of one piece.

    Returns
    -------
    sequence of Together
        One each. What is the least or the worst of all stands with every one, its place with the
        one that it lies in; a time that was calculated is shared by the times of their moves.
    """
    if made.coat is None or made.pieces.is_one:
        return [made]
    coats = [_alone(made, k, job) for k in range(len(made.drawings))]
    return [
        Together(drawings=(drawing,), findings=(found,), coat=coat, pieces=ALONE)
        for drawing, found, coat in zip(
            made.drawings, made.findings, _timed(coats, made.coat), strict=True
        )
    ]


def _alone(made: Together, number: int, job: Job) -> CoatPlan:
    assert made.coat is not None
    laid = LaidCoat(
        coat=made.coat,
        pieces=made.pieces,
        piece=np.array([number], dtype=np.intp),
        place_mm=np.zeros((1, 2)),
        rank=np.zeros(1, dtype=np.intp),
        own=np.zeros(1, dtype=np.intp),
    )
    return join_coats([laid], job, lambda moves: (None, moves))


def _timed(coats: Sequence[CoatPlan], whole: CoatPlan) -> list[CoatPlan]:
    """Share out what was calculated of the whole, not laid."""
    if whole.clearing is None:
        return list(coats)
    all_s = sum(coat.cleared.times.time_s for coat in coats)
    found = []
    for coat in coats:
        share = coat.cleared.times.time_s / all_s
        other_s = whole.clearing.time_other_direction_s
        numbers = replace(
            coat.cleared,
            time_one_direction_s=share * whole.clearing.time_one_direction_s,
            time_other_direction_s=None if other_s is None else share * other_s,
            area_floor_s=whole.clearing.area_floor_s * coat.mask.area_mm2 / whole.mask.area_mm2,
        )
        found.append(replace(coat, clearing=numbers))
    return found
