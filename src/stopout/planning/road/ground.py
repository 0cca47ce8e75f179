"""What every step of a plan stands on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from stopout.etching import BathStrength
from stopout.job.record import Job
from stopout.planning.book.dose import with_dose
from stopout.planning.etch.road import bite_of, strength_of
from stopout.planning.knowledge import Knowledge
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.placing import as_worked_on, face_as_seen
from stopout.planning.memory import Memory
from stopout.planning.opening.first_look import Glimpse
from stopout.planning.plan import CoatPlan
from stopout.planning.road.sign_coats import claims_on
from stopout.planning.signs.claims import Claims
from stopout.planning.signs.front import FrontGlimpse
from stopout.planning.signs.grid import on_grid
from stopout.values import Drawing

Tell = Callable[[str], None]
Look = Callable[[Glimpse | FrontGlimpse], None]
DoAll = Callable[[Sequence[Callable[[Tell], CoatPlan]], Tell], list[CoatPlan]]


def say_nothing(stage: str) -> None:
    """Tell nobody: the default of those who plan."""


def one_by_one(works: Sequence[Callable[[Tell], CoatPlan]], tell: Tell) -> list[CoatPlan]:
    """Plan one coat after another: the default of `plan_job`."""
    return [work(tell) for work in works]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """What every step stands on: the job with its dose, its drawing, and the blank's face.

    `face_seen` is the face as one looks at the piece, `face` as it is worked; `claims` is what
    each coat of a sign shows, None on metal.
    """

    job: Job
    drawing: Drawing
    knowledge: Knowledge
    face_seen: BaseGeometry
    face: BaseGeometry
    claims: Claims | None
    strength: BathStrength | None
    bite: Bite
    is_draft: bool
    memory: Memory
    tell: Tell
    glimpse: Look | None = None
    do_all: DoAll = one_by_one


def ground_of(
    job: Job,
    drawing: Drawing,
    knowledge: Knowledge,
    outline: BaseGeometry | None,
    *,
    draft: bool,
    memory: Memory | None,
    tell: Tell,
) -> Ground:
    """Lay out what a job stands on; for the arguments see `plan_job`."""
    job = with_dose(job, knowledge)
    memory = memory or Memory(0)
    face_seen = face_as_seen(job.blank, outline)
    face = as_worked_on(face_seen, job)
    return Ground(
        job=job,
        drawing=drawing,
        knowledge=knowledge,
        face_seen=face_seen,
        face=on_grid(face) if job.route.is_sign else face,
        claims=claims_on(job, drawing, face_seen, memory) if job.route.is_sign else None,
        strength=strength_of(job, knowledge),
        bite=bite_of(job, knowledge),
        is_draft=draft,
        memory=memory,
        tell=tell,
    )
