"""Gathers what the tables know about a job."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from stopout.errors import TableError
from stopout.etching import Material, hazard_ids
from stopout.jobs import job_error
from stopout.planning import Knowledge
from stopout.planning.job import Job
from stopout.tables import (
    load_etchant,
    load_hazards,
    load_material,
    load_pair,
    load_refusals,
    load_resist,
)

__all__ = ["knowledge_for"]

_T = TypeVar("_T")
_KeyPath = tuple[str | int, ...]


def knowledge_for(job: Job, path: Path | None = None) -> Knowledge:
    """Return the table entries for a job's material, paints and etchant.

    Parameters
    ----------
    job : Job
        The job.
    path : Path, optional
        Its file, for the lines of ids that no table has.

    Raises
    ------
    JobError
        Naming every id that is unknown or not yet in the table, with its line.
    TableError
        Without a file, the first of them.
    """
    faults: list[tuple[_KeyPath, str]] = []

    def looked_up(at: _KeyPath, look_up: Callable[[], _T]) -> _T | None:
        try:
            return look_up()
        except TableError as error:
            if path is None:
                raise
            faults.append((at, str(error)))
            return None

    material = looked_up(("blank", "material"), lambda: load_material(job.blank.material))
    if material is not None:
        looked_up(("blank", "worked_side"), lambda: _check_side(job, material))
    resists = [
        looked_up(_paint_at(job, k), lambda paint=coat.paint: load_resist(paint))  # type: ignore[misc]
        for k, coat in enumerate(job.coats)
    ]
    pair = None
    if job.etch is not None:
        etchant_id = job.etch.etchant
        at = ("etch", "etchant")
        etchant = looked_up(at, lambda: load_etchant(etchant_id))
        if material is not None and etchant is not None:
            pair = looked_up(at, lambda: load_pair(job.blank.material, etchant_id))
    if faults and path is not None:
        raise job_error(path, faults)
    assert material is not None
    known = tuple(resist for resist in resists if resist is not None)
    return Knowledge(
        material=material,
        resists=known,
        pair=pair,
        refusals=load_refusals(),
        hazards=load_hazards(hazard_ids(pair, known, wavelength_nm=job.machine.wavelength_nm)),
    )


def _check_side(job: Job, material: Material) -> None:
    """Refuse a blank that cannot be read through its front, worked on the back."""
    if job.blank.is_back_worked and material.sort != "plastic":
        raise TableError(
            f"{material.name} is not clear; work it on the front, or name a clear plastic"
        )


def _paint_at(job: Job, k: int) -> _KeyPath:
    """Return where the paint of coat k stands in the job file."""
    return ("resist", "paint") if job.coats[k].shows is None else ("coat", k, "paint")
