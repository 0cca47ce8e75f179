"""What the tables say of a job, handed to the planner."""

from __future__ import annotations

from dataclasses import dataclass

from stopout.etching import Cell, Finish, Hazard, Material, Pair, Refusal, Resist, Sludge
from stopout.values import Finding, Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Knowledge:
    """What the tables say about this job's material, paints and chemicals.

    `resists` runs parallel to the job's coats; `pair` is None where nothing is etched, or where
    the bath is refused whatever its strength; `cell` is given where a current etches, `sludge`
    where it is known. `finish` is what covers the blank as bought, and
    `other_resists` what may be named in place of a resist that would not last. `findings` is what
    the tables themselves have to say: whose they are. `thresholds` runs parallel to the coats: what
    is published of the dose that clears such paint, J/mm3.
    """

    material: Material
    resists: tuple[Resist, ...]
    pair: Pair | None = None
    cell: Cell | None = None
    sludge: Sludge | None = None
    refusals: tuple[Refusal, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    finish: Finish | None = None
    other_resists: tuple[Resist, ...] = ()
    findings: tuple[Finding, ...] = ()
    thresholds: tuple[Span, ...] = ()
