"""The stage that makes up the bath: used, diluted from stock, bought, or dissolved."""

from __future__ import annotations

import math
from collections.abc import Mapping

from stopout.etching import EtchPlan, Pair, companion_stock_g_per_l
from stopout.etching.bath.amounts import COVER_MM
from stopout.planning import Plan
from stopout.sheet.model import STAGE, Block, Heading
from stopout.sheet.stages.day import (
    density_step,
    diluted_steps,
    hang_steps,
    used_bath_steps,
    water_step,
)
from stopout.sheet.stages.hazards import hazard_boxes
from stopout.sheet.steps import step
from stopout.sheet.words import grams, litres, typeset

TRAY_MARGIN_MM = 20.0
# From the bath to the rim of a tank. Our own rule.
_FREEBOARD_MM = 30.0


def tray_mm(plan: Plan) -> tuple[float, float]:
    """Floor of the tray: the named one, else 20 mm all round (common practice, no source)."""
    if plan.etch is not None:
        return plan.etch.pour.tray_mm
    blank = plan.job.blank
    return blank.width_mm + 2 * TRAY_MARGIN_MM, blank.height_mm + 2 * TRAY_MARGIN_MM


def mix_stage(plan: Plan, etch: EtchPlan, pair: Pair, statements: Mapping[str, str]) -> list[Block]:
    """Make up the bath: what goes into what, how much, how warm."""
    blocks: list[Block] = [
        Heading(text="Make up the bath", letter=STAGE),
        *hazard_boxes(plan, "mixing", statements),
    ]
    blocks += _made_up(etch, pair)
    width, height = tray_mm(plan)
    depth = 1e6 * etch.bath_fill_l / (width * height)
    return [
        *blocks,
        step(
            f"Pour the bath into the {vessel_name(etch)}.",
            f"Plastic, standing level in a larger tray; at this floor the bath stands "
            f"{depth:.0f}\u00a0mm deep. "
            + (_deep_enough(etch) if etch.pour.hangs else _larger(etch.bath_fill_l, depth)),
            sets=(
                (
                    "floor" if etch.use.tray_mm else "floor, at least",
                    f"{width:.0f} × {height:.0f}\u00a0mm",
                ),
                ("bath", litres(etch.bath_fill_l)),
            ),
        ),
        step(
            "Bring the bath to its temperature.",
            "In a larger vessel of warm or cold water; never over a flame.",
            sets=(("bath", f"{etch.temperature_degc:g}\u00a0°C"),),
            measured=(("bath", "°C"),),
        ),
        *hang_steps(etch),
    ]


def _made_up(etch: EtchPlan, pair: Pair) -> list[Block]:
    """The bath as this shop comes by it: used, diluted from stock, bought, or dissolved."""
    if etch.pour.start_g_per_l > 0.0:
        return used_bath_steps(etch, pair)
    if etch.mixing.stock_l is not None:
        return diluted_steps(etch, pair)
    return _ready_made(etch, pair) if pair.etchant.ready_made else _dissolved(etch, pair)


def _dissolved(etch: EtchPlan, pair: Pair) -> list[Block]:
    rise = etch.mixing_rise_k
    warms = "" if rise is None else f" It warms by up to {rise:.0f}\u00a0K."
    if etch.mixing.portions is not None and etch.mixing.portions > 1:
        warms += f" Add it in {etch.mixing.portions} portions or more."
    return [
        water_step(etch.water_fill_l),
        *_companions(etch, pair),
        step(
            f"Weigh the {pair.etchant.reagent}.",
            # Lye draws water from the air; what feeds fire or gives off oxygen is never shut tight.
            "Dry, clean plastic vessel."
            if pair.etchant.solution_kj_per_g is None
            else "Dry vessel, lid on at once.",
            sets=((pair.etchant.reagent, grams(etch.reagent_fill_g)),),
            measured=(("weighed", "g"),),
        ),
        step(
            f"Stir the {pair.etchant.reagent} INTO the cold water, a little at a time.",
            f"Never water onto it.{warms} Wait whenever it gets hot to the hand outside."
            if pair.etchant.solution_kj_per_g is not None
            else "Until none is left at the bottom.",
        ),
        step(
            "Let the mixture cool below the bath's temperature.",
            "Before any piece goes in.",
            sets=(("mixture", f"{etch.temperature_degc:g}\u00a0°C or less"),),
            measured=(("mixture", "°C"),),
        ),
    ]


def _companions(etch: EtchPlan, pair: Pair) -> list[Block]:
    """What goes into the bath besides its reagent: before it, so that acid meets only water."""
    steps: list[Block] = []
    for companion in pair.etchant.companions:
        mass = etch.bath_fill_l * companion_stock_g_per_l(companion, etch.strength.g_per_l)
        how = "It fumes: outdoors or extracted, slowly, stirred, never water onto it."
        if companion.stock_fraction is None:
            how = "Until none is left at the bottom."
        steps.append(
            step(
                f"Stir the {typeset(companion.name)} INTO the cold water.",
                how,
                sets=((typeset(companion.name), grams(mass)),),
                measured=(("weighed", "g"),),
            )
        )
    return steps


def _ready_made(etch: EtchPlan, pair: Pair) -> list[Block]:
    strength = etch.strength
    return [
        step(
            f"Measure the {pair.etchant.name} solution into the mixing vessel.",
            f"{strength.deg_baume:.1f}\u00a0°Bé is {strength.g_per_l:.0f}\u00a0g/L or "
            f"{100 * strength.fraction:.1f}\u00a0% by weight; this much holds "
            f"{grams(etch.reagent_fill_g)} of {pair.etchant.name}. Stronger stock is first poured "
            "INTO cold water, slowly and stirred, never water onto it.",
            sets=(
                ("solution", litres(etch.bath_fill_l)),
                ("strength", f"{strength.deg_baume:.1f}\u00a0°Bé"),
            ),
            measured=(("solution", "L"),),
        ),
        density_step(etch),
    ]


def vessel_name(etch: EtchPlan) -> str:
    """What the bath stands in: a flat tray, or a deep tank where the piece hangs."""
    return "etching tank" if etch.pour.hangs else "etching tray"


def vessel_depth_mm(etch: EtchPlan) -> float:
    """Least depth of a tank whose rim stands 30 mm above the bath (our own rule) [mm]."""
    return etch.pour.cover_mm + _FREEBOARD_MM


def _deep_enough(etch: EtchPlan) -> str:
    return (
        f"The tank is at least {vessel_depth_mm(etch):.0f}\u00a0mm deep: 20\u00a0mm below the "
        f"piece for sludge, {COVER_MM:g}\u00a0mm of bath above it, {_FREEBOARD_MM:g}\u00a0mm to "
        "the rim. A larger floor needs more bath of the same strength."
    )


def _larger(bath_l: float, depth_mm: float) -> str:
    """What a tray with a larger floor needs: more bath, or none where this one stands deep."""
    if depth_mm < 2.0 * COVER_MM:
        return "A larger tray needs more bath of the same strength."
    # Rounded down: what is followed to the letter must still cover the piece.
    floor_cm2 = 10.0 * math.floor(bath_l * 1e4 / COVER_MM / 10.0)
    return (
        f"Better a larger one: this bath still covers a floor of {floor_cm2:.0f}\u00a0cm² "
        f"{COVER_MM:g}\u00a0mm deep."
    )
