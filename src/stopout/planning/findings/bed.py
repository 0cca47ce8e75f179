"""A blank larger than the bed: told once, in place of all that follows from it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from stopout.job.record import Job
from stopout.planning.plan import CoatPlan
from stopout.values import Finding

# Between blanks that lie in a fixture (common practice, no source).
_GAP_MM = 5.0
# What says no more than that the blank is too large, once that is said.
_FOLLOWERS = frozenset({"outside-bed", "bounds-left-out", "blank-centred"})
_SPARE_MM = 1e-6


def told_once(findings: Sequence[Finding], job: Job, coats: Sequence[CoatPlan]) -> list[Finding]:
    """Put one finding in place of all that a blank larger than the bed leads to.

    Parameters
    ----------
    findings : sequence of Finding
        Of the plan so far.
    job : Job
        The job.
    coats : sequence of CoatPlan
        With their motion.

    Returns
    -------
    list of Finding
        Unchanged where the blank fits, and where it only stands out over the bed's end while
        every motion stays inside.
    """
    if not job.route.has_beam or not any(finding.code == "outside-bed" for finding in findings):
        return list(findings)
    size, bed = (job.blank.width_mm, job.blank.height_mm), job.laser.bed_mm
    if _fits(size, bed):
        return list(findings)
    stop = Finding.stop(
        "blank-beyond-bed",
        f"the blank of {size[0]:g} x {size[1]:g} mm does not fit the bed of "
        f"{bed[0]:g} x {bed[1]:g} mm",
        _remedy(size, bed, coats),
    )
    return [stop, *(finding for finding in findings if finding.code not in _FOLLOWERS)]


def _fits(size: tuple[float, float], bed: tuple[float, float]) -> bool:
    return all(side <= room + _SPARE_MM for side, room in zip(size, bed, strict=True))


def _remedy(size: tuple[float, float], bed: tuple[float, float], coats: Sequence[CoatPlan]) -> str:
    """Turn it, let it stand out over the end, or else a larger bed or smaller blanks."""
    if _fits(size[::-1], bed):
        return f"Turn blank and artwork by a quarter turn: {size[1]:g} x {size[0]:g} mm fits."
    larger = (
        f"use a machine with a bed of at least {size[0]:g} x {size[1]:g} mm, or plan the work as "
        f"several pieces on blanks of at most {bed[0]:g} x {bed[1]:g} mm."
    )
    corner = _corner_mm(bed, coats)
    if corner is None:
        return f"{larger[0].upper()}{larger[1:]}"
    at = ", ".join(f'"{value:g} mm"' for value in corner)
    return (
        "Where the machine is open at its ends, let the blank stand out over the bed, held level: "
        f"with machine.blank_at = [{at}] every motion stays inside. Else {larger}"
    )


def _corner_mm(bed: tuple[float, float], coats: Sequence[CoatPlan]) -> tuple[float, float] | None:
    """Return where the blank's corner could lie so that all motion stays in the bed, if at all."""
    corner = []
    for axis, room in enumerate(bed):
        ends = [coat.moves.x_mm if axis == 0 else coat.moves.y_mm for coat in coats]
        # Programs begin and end at the blank's corner.
        reached = np.concatenate([np.zeros(1), *ends])
        # Whole tenths of a millimetre, so that the corner can be laid by a rule and a loupe.
        at = math.ceil(-10 * float(reached.min()) - 1e-6) / 10
        if at + float(reached.max()) > room:
            return None
        corner.append(at + 0.0)
    return corner[0], corner[1]


def one_by_one(job: Job) -> list[Finding]:
    """Say how many of several pieces would lie on the bed at once, cleared by one program."""
    pieces = job.quantity + job.spares
    is_laid = job.panel is not None or job.series is not None
    if pieces < 2 or is_laid or not job.route.clears_paint or job.route.is_sign:
        return []
    sides = ((job.blank.width_mm, job.blank.height_mm), job.laser.bed_mm)
    many = math.prod(
        math.floor((room + _GAP_MM) / (side + _GAP_MM)) for side, room in zip(*sides, strict=True)
    )
    if many < 2:
        return []
    return [
        Finding.note(
            "pieces-one-by-one",
            f"the {pieces} pieces are cleared one after another, each laid and aligned by "
            f"itself; {min(many, pieces)} of them would lie on the bed at once",
            "With a fixture, a panel of loose pieces clears them by one program: [panel].",
        )
    ]
