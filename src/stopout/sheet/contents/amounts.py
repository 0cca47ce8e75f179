"""What a job takes of the machine, the bath, the paints and the etchant, in numbers."""

from __future__ import annotations

from typing import Any

from stopout.etching import EtchPlan
from stopout.planning import Plan
from stopout.sheet.stages.paint import OVERSPRAY, painted_cm2, sprayed, wet_paint_ml


def amounts(plan: Plan) -> dict[str, Any] | None:
    """Return plan.json's `amounts`, for all pieces of the job; None where nothing may be worked.

    Parameters
    ----------
    plan : Plan
        Stopped or not.

    Returns
    -------
    dict or None
        `clearing_s` and `bath_s` (None without a beam, without a bath), `paints` and `reagents`.
    """
    if plan.is_stopped:
        return None
    etch = plan.etch
    times = [] if etch is None else [batch.time_s or etch.time_s for batch in etch.batches]
    return {
        "clearing_s": _clearing_s(plan),
        "bath_s": None if etch is None else _digits(sum(times or [etch.time_s])),
        "paints": _paints(plan),
        "reagents": [] if etch is None else [_reagent(etch)],
    }


def _reagent(etch: EtchPlan) -> dict[str, Any]:
    # What is bought of a bath under a current is its salt.
    ident = etch.etchant if etch.electro is None else etch.electro.electrolyte
    return {"etchant": ident, "reagent_g": _digits(etch.reagent_fill_g)}


def _clearing_s(plan: Plan) -> float | None:
    """The programs' own times; what is waited between pieces is not in them."""
    if not plan.job.route.has_beam:
        return None
    one = [sum(coat.cleared.times.time_s for coat in made.coats) for made in _worked(plan)]
    if plan.panels:
        return _digits(sum(one))
    return _digits((plan.job.quantity + plan.job.spares) * one[0])


def _worked(plan: Plan) -> tuple[Plan, ...]:
    """Each panel, or the one plan after which every piece is made."""
    others = tuple(panel for _, panel in plan.numbered_panels)
    return others if plan.are_loose else (plan, *others)


def _paints(plan: Plan) -> list[dict[str, Any]]:
    if not plan.job.route.sprays and not plan.job.route.is_lit:
        return []
    area = painted_cm2(plan)
    return [
        {
            "paint": coat.paint,
            "colour": coat.colour,
            "wet_ml": _digits(
                OVERSPRAY
                * wet_paint_ml(area, resist.film_um(coat.thickness_um), resist.solids.value)
            ),
        }
        for _, coat, resist in sprayed(plan)
    ]


def _digits(value: float) -> float:
    return float(f"{value:.4g}")
