"""What the shop book's ledger says of the bath that a job names."""

from __future__ import annotations

from dataclasses import dataclass, replace

from stopout.job.record import Job
from stopout.values import Finding, Level


@dataclass(frozen=True, slots=True, kw_only=True)
class BathState:
    """A bath by its ledger: what it is, how much of it there is, and the metal in it.

    `litres` is what was mixed and topped up; what evaporated or was carried out is not in a
    ledger. `last` is the date of the last line.
    """

    etchant: str
    litres: float
    dissolved_g_per_l: float
    is_discarded: bool
    last: str


def with_bath(job: Job, state: BathState | None) -> Job:
    """Return the job with its bath's metal and volume from the ledger, where it gives none.

    Parameters
    ----------
    job : Job
        A job that names its bath.
    state : BathState or None
        That bath; None where the book has none of this name.

    Returns
    -------
    Job
        With a finding that says what was taken from the book or why nothing was.
    """
    name, bath = job.bath.ident, job.bath
    if job.etch is None:
        return job
    if state is None:
        return _saying(
            job,
            Level.CAUTION,
            f"the shop book has no bath {name!r}: it is taken as the job file says",
            f"Begin its ledger with stopout shop bath {name}, or take the id out.",
        )
    if state.is_discarded:
        return _saying(
            job,
            Level.CAUTION,
            f"the bath {name!r} was discarded on {state.last} by the shop book",
            "Mix a new one and write it down with stopout shop bath, or give another id.",
        )
    if state.etchant != job.etch.etchant:
        # Lye in the place of an acid chloride, or the other way round, is found out by pouring it.
        return _saying(
            job,
            Level.STOP,
            f"the bath {name!r} of the shop book is {state.etchant}, the job's is "
            f"{job.etch.etchant}: nothing is taken from its ledger",
            "Look at the label on the container, then name the bath that is meant.",
        )
    if bath.dissolved_g_per_l > 0 or state.litres <= 0:
        return job
    used = replace(
        job,
        bath=replace(
            bath,
            dissolved_g_per_l=state.dissolved_g_per_l,
            volume_l=bath.volume_l if bath.volume_l is not None else state.litres,
        ),
    )
    return _saying(
        used,
        Level.NOTE,
        f"the bath {name!r} holds {state.dissolved_g_per_l:.3g} g/L of metal in "
        f"{state.litres:.3g} L by the shop book, last line {state.last}",
        "",
    )


def _saying(job: Job, level: Level, message: str, remedy: str) -> Job:
    finding = Finding(code="shop-bath", level=level, message=message, remedy=remedy)
    return replace(job, findings=(*job.findings, finding))
