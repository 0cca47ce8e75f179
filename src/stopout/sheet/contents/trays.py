"""How many pieces go into a tray at once, and how many times it is filled."""

from __future__ import annotations

from stopout.etching import EtchPlan
from stopout.planning import Plan


def tray_rows(plan: Plan, etch: EtchPlan) -> tuple[tuple[str, str], ...]:
    """Return what is said of trays: pieces at once, and how many times it is filled."""
    pour = etch.pour
    width, height = pour.tray_mm
    times = len(etch.batches) or 1
    hang = "hanging in" if pour.hangs else "in"
    at_once = f"{pour.at_once} {hang} a tray of {width:.0f} × {height:.0f}\u00a0mm"
    whose = ", the least that holds it"
    if plan.job.bath.tray_mm is not None:
        source = plan.job.source_of("bath.tray")
        whose = ", as the job names it" if source == "job file" else f": {source}"
    elif pour.is_proposed:
        whose = ", a usual one: name yours as bath.tray"
    return (
        ("At once", at_once + whose),
        (
            "Trayfuls",
            f"{times} for {pour.pieces} {plan.blank_called}{'' if pour.pieces == 1 else 's'}",
        ),
    )
