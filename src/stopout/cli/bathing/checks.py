"""What is to be said of a bath besides its plan: refusals, thickness, resist, what was left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stopout.cli.bathing.options import maybe
from stopout.units import parse_length_mm

if TYPE_CHECKING:
    from stopout.cli.bathing.asked import Asked
    from stopout.etching import EtchPlan, Pair
    from stopout.values import Finding

__all__ = ["more_findings", "refused_now"]


def refused_now(
    material: str, etchant: str, resist: str | None, g_per_l: float | None
) -> list[Finding]:
    """The table of refusals, held against the bath.

    Parameters
    ----------
    material, etchant : str
        Ids, known to the tables or not.
    resist : str or None
        The paint.
    g_per_l : float or None
        Strength of the bath; None keeps to the rules that hold at any strength.
    """
    from stopout.etching import refusals
    from stopout.tables import base_of, load_refusals

    return list(
        refusals(
            load_refusals(),
            material_id=material,
            etchant_id=etchant,
            strength_g_per_l=g_per_l,
            resist_ids=() if resist is None else (resist,),
            base_id=base_of(material),
        )
    )


def more_findings(plan: EtchPlan, pair: Pair, asked: Asked) -> list[Finding]:
    """Findings that need more than the etch: thickness, resist, what was left out.

    Parameters
    ----------
    plan : EtchPlan
        The planned etch.
    pair : Pair
        The metal in its bath.
    asked : Asked
        The options.
    """
    from stopout.etching import check_depth, floor_findings

    thickness_mm = maybe("--thickness", asked.thickness, parse_length_mm)
    found = _left_out(plan, asked)
    if thickness_mm is not None:
        found += check_depth(plan.depth_mm, thickness_mm)
    found += floor_findings(
        depth_mm=plan.depth_mm, thickness_mm=thickness_mm, is_filled=asked.filled
    )
    return [*found, *_resist_findings(plan, pair, asked.resist)]


def _left_out(plan: EtchPlan, asked: Asked) -> list[Finding]:
    """What was taken for the options that were not given."""
    from stopout.values import Finding, Level

    no_size = asked.size is None and plan.use.tray_mm is None
    left_out = (
        (asked.strength is None, "--strength", f"{plan.strength.as_given}, a usual bath"),
        (asked.temperature is None, "--temperature", f"{plan.temperature_degc:g} degC"),
        (
            asked.edge is None,
            "--edge",
            "0 mm: the side walls' metal, heat and gas are not calculated",
        ),
        (no_size, "--size", "none: covering is not calculated"),
    )
    return [
        Finding(
            code="bath-default",
            level=Level.NOTE,
            message=f"{option} is left out and taken as {taken}",
        )
        for is_out, option, taken in left_out
        if is_out
    ]


def _resist_findings(plan: EtchPlan, pair: Pair, resist: str | None) -> tuple[Finding, ...]:
    """Whether the paint stands the bath, for as long as the etch may take."""
    from stopout.cli.knowledge import usable_resists
    from stopout.etching import Remedies, check_resist
    from stopout.tables import load_refusals, load_resist

    if resist is None:
        return ()
    return check_resist(
        load_resist(resist),
        pair.etchant,
        temperature_degc=plan.temperature_degc + plan.rise_k,
        time_s=plan.time_s,
        time_high_s=plan.longest_s,
        remedies=Remedies(
            pair=pair,
            strength_g_per_l=plan.strength.g_per_l,
            temperature_degc=plan.temperature_degc,
            rise_k=plan.rise_k,
            agitation=plan.agitation,
            depth_mm=plan.depth_mm,
            time_s=plan.time_s,
            others=usable_resists(load_refusals()),
        ),
    )
