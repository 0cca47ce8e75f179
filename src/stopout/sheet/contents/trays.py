"""How many pieces go into a tray at once, and how many times it is filled."""

from __future__ import annotations

from stopout.etching import EtchPlan
from stopout.etching.bath_use import BathUse, fit_tray
from stopout.planning import Plan

__all__ = ["USUAL_TRAYS_MM", "tray_rows", "usual_tray"]

# Floors of trays as sold for photographs (common practice, no source), the smallest first.
USUAL_TRAYS_MM = ((180.0, 130.0), (240.0, 180.0), (300.0, 240.0), (400.0, 300.0), (500.0, 400.0))


def tray_rows(plan: Plan, etch: EtchPlan) -> tuple[tuple[str, str], ...]:
    """Return what is said of trays: pieces at once, times it is filled, a usual tray.

    Parameters
    ----------
    plan : Plan
        For the blank and the tray that the job names.
    etch : EtchPlan
        Its etch.
    """
    pour = etch.pour
    width, height = pour.tray_mm
    times = len(etch.batches) or 1
    hang = "hanging in" if pour.hangs else "in"
    at_once = f"{pour.at_once} {hang} a tray of {width:.0f} × {height:.0f}\u00a0mm"
    named = plan.job.bath.tray_mm is not None
    rows = [
        ("At once", at_once + (", as the job names it" if named else ", the least that holds it")),
        ("Trayfuls", f"{times} for {pour.pieces} piece{'' if pour.pieces == 1 else 's'}"),
    ]
    usual = None if named or pour.hangs or pour.pieces == 1 else usual_tray(plan, pour.pieces)
    if usual is not None:
        (wide, deep), many = usual
        rows.append(
            (
                "A usual tray",
                f"{wide:.0f} × {deep:.0f}\u00a0mm takes {many} at once, 20\u00a0mm apart: name it "
                "as bath.tray and plan again",
            )
        )
    return tuple(rows)


def usual_tray(plan: Plan, pieces: int) -> tuple[tuple[float, float], int] | None:
    """The smallest usual tray that takes two pieces or more, and how many; None where none does.

    Parameters
    ----------
    plan : Plan
        For the size of a piece.
    pieces : int
        How many there are.
    """
    blank = plan.job.blank
    for tray in USUAL_TRAYS_MM:
        fit = fit_tray((blank.width_mm, blank.height_mm), BathUse(tray_mm=tray), pieces)
        if fit.fits >= min(2, pieces):
            return tray, fit.at_once
    return None
