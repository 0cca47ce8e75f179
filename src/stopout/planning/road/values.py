"""Every value that a plan uses, each with its kind and source."""

from __future__ import annotations

from collections.abc import Sequence

from stopout.etching import EtchPlan, resist_values
from stopout.job.record import Job
from stopout.planning.knowledge import Knowledge
from stopout.planning.opening.by_film import film_values
from stopout.planning.plan import CoatPlan
from stopout.planning.road.stating import clearing_values, machine_values
from stopout.values import Stated


def values_of(
    job: Job, knowledge: Knowledge, coats: Sequence[CoatPlan], etch: EtchPlan | None
) -> tuple[Stated, ...]:
    """Return every value that the plan uses, each with its kind and source."""
    stated = machine_values(job)
    for coat in coats:
        stated += clearing_values(coat, job) if job.route.has_beam else film_values(coat, job)
    etchant = knowledge.pair.etchant if knowledge.pair is not None else None
    if job.route.is_lit:
        return tuple(stated)
    for number, (resist, coat_as_given) in enumerate(
        zip(knowledge.resists, job.coats, strict=True), start=1
    ):
        if coat_as_given.is_window:
            continue
        stated += resist_values(
            resist,
            etchant=etchant,
            thickness_um=coat_as_given.thickness_um,
            of=f" of coat {number}" if len(job.coats) > 1 else "",
            whose=job.source_of(
                "resist.thickness" if job.etch is not None else f"coat[{number}].thickness"
            ),
        )
    return (*stated, *(etch.values if etch else ()))
