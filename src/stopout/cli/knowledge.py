"""Gathers what the tables know about a job."""

from __future__ import annotations

from stopout.etching import hazard_ids
from stopout.planning import Knowledge
from stopout.planning.job import Job
from stopout.tables import load_hazards, load_material, load_pair, load_refusals, load_resist

__all__ = ["knowledge_for"]


def knowledge_for(job: Job) -> Knowledge:
    """Return the table entries for a job's material, paints and etchant.

    Raises
    ------
    TableError
        If one of them is unknown or not yet in the table.
    """
    material = load_material(job.blank.material)
    resists = tuple(load_resist(coat.paint) for coat in job.coats)
    pair = load_pair(job.blank.material, job.etch.etchant) if job.etch else None
    return Knowledge(
        material=material,
        resists=resists,
        pair=pair,
        refusals=load_refusals(),
        hazards=load_hazards(hazard_ids(pair, resists)),
    )
