"""The program that shows where a job will lie, written and proven like the others."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stopout.job.record import Job
from stopout.planning.findings.kinds import pointer_findings
from stopout.planning.plan import CoatPlan
from stopout.program import bounds_moves, prove_text, write_program
from stopout.values import Finding, Moves


def bounds_program(
    job: Job, coats: Sequence[CoatPlan], blank_at: tuple[float, float]
) -> tuple[str | None, list[Finding]]:
    """Write and prove the program that shows where the job will lie."""
    boxes = [_motion_box(coat.moves) for coat in coats if len(coat.moves)]
    art = [coat.opening.bounds for coat in coats if not coat.opening.is_empty]
    if not boxes or not art:
        return None, []
    moves = bounds_moves(
        _around(boxes), _around(art), machine=job.laser, speed_mm_s=job.settings.speed_mm_s
    )
    findings = pointer_findings(job, moves)
    text = write_program(
        moves,
        machine=job.laser,
        title=[f"{job.name}, revision {job.revision}", "shows where the job will lie"],
    )
    problems = prove_text(text, machine=job.laser, blank_at_mm=blank_at)
    if not problems:
        return text, findings
    # The clearing programs report their own; the box alone may cross a clamp that they avoid.
    findings.append(
        Finding.caution(
            "bounds-left-out",
            f"bounds.nc is not written: {problems[0].message}",
            "Align the blank by hand, or move it or the clamp.",
        )
    )
    return None, findings


def _motion_box(moves: Moves) -> tuple[float, float, float, float]:
    x, y = np.append(moves.x_mm, 0.0), np.append(moves.y_mm, 0.0)
    return (float(x.min()), float(y.min()), float(x.max()), float(y.max()))


def _around(
    boxes: Sequence[tuple[float, float, float, float]],
) -> tuple[float, float, float, float]:
    low, high = np.min(boxes, axis=0), np.max(boxes, axis=0)
    return (float(low[0]), float(low[1]), float(high[2]), float(high[3]))
