"""The coats of a job, opened: all of one piece, or the one coat of several side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.clearing import ALONE, SideBySide
from stopout.job.record import Job
from stopout.mask import as_multipolygon, make_target, parts_of
from stopout.planning.knowledge import Knowledge
from stopout.planning.measures.placing import as_worked_on, face_as_seen
from stopout.planning.memory import Memory, digest_of
from stopout.planning.opening.coat import CoatAsked, plan_coat
from stopout.planning.opening.look import Narrow
from stopout.planning.opening.masks import Making
from stopout.planning.opening.patches import in_a_row
from stopout.planning.plan import CoatPlan
from stopout.planning.road.ground import Ground, Tell, ground_of, one_by_one, say_nothing
from stopout.planning.road.sign_coats import cleared_on, plan_past_the_edge, stacked
from stopout.planning.signs.claims import Claims
from stopout.planning.signs.front import FrontGlimpse
from stopout.planning.signs.layers import Layers
from stopout.planning.verdict.cut import cut_findings, lay
from stopout.values import Box, Drawing, Finding

# A coat of fewer vertices is planned sooner than another process is begun.
_LARGE = 500


def coats_of(ground: Ground, beside: Narrow | None = None) -> tuple[Layers | None, list[CoatPlan]]:
    """How a sign's coats are cleared, and each coat that anything is cleared of, opened."""
    job = ground.job
    layers: Layers | None = None
    targets: list[MultiPolygon | None] = [_target(ground)] if ground.claims is None else []
    if ground.claims is not None:
        _look_at_front(ground, ground.claims)
        layers, targets = cleared_on(job, ground.claims.shown, ground.face, ground.memory)

    def opened(number: int, target: MultiPolygon, tell: Tell) -> CoatPlan:
        asked = CoatAsked(
            number=number,
            coat=job.coats[number - 1] if layers is None else stacked(number, layers, job),
            face=ground.face,
            job=job,
            bite=ground.bite,
            tell=tell,
            is_draft=ground.is_draft,
            memory=ground.memory,
            beside=beside,
            glimpse=ground.glimpse,
        )
        return plan_coat(asked, target) if layers is None else plan_past_the_edge(asked, target)

    works = [
        partial(opened, number, target)
        for number, target in enumerate(targets, start=1)
        if target is not None
    ]
    large = [t for t in targets if t and shapely.get_num_coordinates(t) >= _LARGE]
    do_all = ground.do_all if len(large) > 1 else one_by_one
    return layers, do_all(works, ground.tell)


def _look_at_front(ground: Ground, claims: Claims) -> None:
    """Give a first look at a sign that is drafted, unless it was given one as it is drawn now."""
    key = ("front as drawn", digest_of(ground.face_seen, *claims.shown))
    if ground.glimpse is None or not ground.is_draft or ground.memory.knows(key):
        return
    ground.glimpse(FrontGlimpse(face=ground.face_seen, shown=claims.shown))
    ground.memory.recall(key, lambda: True)


def _target(ground: Ground) -> MultiPolygon:
    """What is to be finished of a plate, as worked."""
    job = ground.job
    target = make_target(
        ground.drawing.dark,
        ground.face_seen,
        is_raised=job.artwork.dark == "raised",
        field_mm=job.artwork.field_mm or 0.0,
    )
    return as_multipolygon(as_worked_on(target, job))


def plan_coats(
    job: Job,
    drawings: Sequence[Drawing],
    knowledge: Knowledge,
    *,
    outline: BaseGeometry | None = None,
    draft: bool,
    beside: Narrow | None = None,
    boxes: Sequence[Sequence[Box] | None] = (),
    without: Sequence[Sequence[Box]] = (),
) -> tuple[CoatPlan, SideBySide, list[list[Finding]]]:
    """Plan the coat of a plate's pieces alone, and say what of each drawing the blank takes.

    Several pieces are laid side by side and planned as one, each as if it were alone.

    Parameters
    ----------
    job : Job
        Of one piece.
    drawings : sequence of Drawing
        A piece's each.
    knowledge, outline, draft
        As for `plan_job`.
    beside : Narrow, optional
        How narrow another piece of the same panel is: what is no narrower is not measured.
    boxes : sequence, optional
        For each drawing the boxes, as seen, within which its parts are planned; all where None.
    without : sequence, optional
        For each drawing the boxes within which none are.

    Returns
    -------
    coat : CoatPlan
        Of all pieces.
    pieces : SideBySide
        Where they lie.
    findings : list of list of Finding
        Of each piece, where it is alone.

    Raises
    ------
    PlanError
        If nothing is to be cleared.
    """
    ground = ground_of(
        job, drawings[0], knowledge, outline, draft=draft, memory=None, tell=say_nothing
    )
    grounds = [replace(ground, drawing=drawing) for drawing in drawings]
    planned = [
        replace(one, drawing=_less(_within(one.drawing, box), left_out))
        for one, box, left_out in zip(
            grounds, boxes or [None] * len(grounds), without or [()] * len(grounds), strict=True
        )
    ]
    if len(planned) == 1:
        pieces, coat = ALONE, coats_of(planned[0], beside)[1][0]
    else:
        pieces, coat = _side_by_side(planned, beside)
    return coat, pieces, [_taken(one, coat.reach_mm) for one in grounds]


def _within(drawing: Drawing, boxes: Sequence[Box] | None) -> Drawing:
    """Return a drawing's parts that lie within any of some boxes."""
    if boxes is None:
        return drawing
    parts = parts_of(drawing.dark)
    return replace(drawing, dark=as_multipolygon(parts[_covered(parts, boxes)]))


def _less(drawing: Drawing, boxes: Sequence[Box]) -> Drawing:
    """Return a drawing without its parts that lie within any of some boxes."""
    if not boxes:
        return drawing
    parts = parts_of(drawing.dark)
    return replace(drawing, dark=as_multipolygon(np.delete(parts, _covered(parts, boxes))))


def _covered(parts: NDArray[np.object_], boxes: Sequence[Box]) -> NDArray[np.intp]:
    """Return which parts lie within any of some boxes."""
    tree = shapely.STRtree(parts)
    return np.unique(tree.query([shapely.box(*box) for box in boxes], predicate="covers")[1])


def _side_by_side(grounds: Sequence[Ground], beside: Narrow | None) -> tuple[SideBySide, CoatPlan]:
    ground = grounds[0]
    job, face = ground.job, ground.face
    asked = replace(_asked(ground), beside=beside)
    apart = math.ceil(2 * asked.making().apart_mm)
    pieces = SideBySide(pitch_mm=math.ceil(job.blank.width_mm) + 2 * apart, lead_mm=apart)
    targets = [_target(one) for one in grounds]
    for target in targets:
        if target.is_empty:
            # Says what is wrong with it.
            return ALONE, plan_coat(asked, target)
    asked = replace(asked, pieces=pieces, face=in_a_row([face] * len(grounds), pieces))
    return pieces, plan_coat(asked, in_a_row(targets, pieces))


def making_for(job: Job, drawing: Drawing, knowledge: Knowledge) -> Making:
    """Return what decides how the one coat of a plate is made."""
    ground = ground_of(job, drawing, knowledge, None, draft=True, memory=None, tell=say_nothing)
    return _asked(ground).making()


def _asked(ground: Ground) -> CoatAsked:
    """The one coat of a plate, on its face."""
    return CoatAsked(
        number=1,
        coat=ground.job.coats[0],
        face=ground.face,
        job=ground.job,
        bite=ground.bite,
        tell=ground.tell,
        is_draft=ground.is_draft,
        memory=Memory(0),
    )


def _taken(ground: Ground, reach_mm: float) -> list[Finding]:
    """What the blank takes of a piece's drawing."""
    laid = lay(ground.job, ground.drawing, ground.face)
    return cut_findings(ground.job, laid, reach_mm=reach_mm)


def cut_by_blank(
    job: Job, drawing: Drawing, *, outline: BaseGeometry | None = None
) -> list[Finding]:
    """Say what of a drawing its own blank takes, where it is planned on a larger one."""
    face = as_worked_on(face_as_seen(job.blank, outline), job)
    return cut_findings(job, lay(job, drawing, face), reach_mm=0.0)
