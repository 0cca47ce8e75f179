"""Every value that the sheet prints or goes by, with where it comes from."""

from __future__ import annotations

from stopout.etching import resist_values
from stopout.etching.schedule import LOOK, MEASURE
from stopout.planning import Plan
from stopout.sheet.stages.clearing import RUN_ON_S
from stopout.sheet.stages.mix import TRAY_MARGIN_MM
from stopout.sheet.stages.plate import WATER_BREAK_S
from stopout.values import Stated

_PRACTICE = "common practice, no source"


def sheet_values(plan: Plan) -> tuple[Stated, ...]:
    """The plan's values, and after them those that only the sheet goes by, each name once."""
    values = {value.name: value for value in plan.values}
    for value in (*_coat_values(plan), *_run_on(plan), *_wet_values(plan)):
        values.setdefault(value.name, value)
    return tuple(values.values())


def _coat_values(plan: Plan) -> list[Stated]:
    found: list[Stated] = []
    sprayed = [coat for coat in plan.job.coats if not coat.is_window]
    for number, (coat, resist) in enumerate(zip(sprayed, plan.resists, strict=False), start=1):
        found += resist_values(
            resist,
            etchant=None if plan.pair is None else plan.pair.etchant,
            thickness_um=coat.thickness_um,
            of=f" of coat {number}" if plan.shown else "",
        )
    return found


def _run_on(plan: Plan) -> list[Stated]:
    """The extraction's run-on, from the sentence of the hazards table that asks for it."""
    if not plan.job.route.has_beam:
        return []
    minutes = f"{RUN_ON_S // 60} min"
    asked = [
        line for hazard in plan.hazards for line in hazard.cautions if f"run {minutes}" in line.text
    ]
    name = "extraction after the last mark"
    if not asked:
        return [Stated(name=name, value=minutes, kind="practice", source=_PRACTICE)]
    return [Stated(name=name, value=minutes, kind=asked[0].kind, source=asked[0].source)]


def _wet_values(plan: Plan) -> list[Stated]:
    if plan.etch is None:
        return []
    look = f"at {100 * LOOK:g} % and {100 * MEASURE:g} % of the time"
    margin = f"{TRAY_MARGIN_MM:g} mm all round the piece"
    film = f"{WATER_BREAK_S} s"
    return [
        Stated(name="look and measure", value=look, kind="practice", source=_PRACTICE),
        Stated(name="floor of the tray", value=margin, kind="practice", source=_PRACTICE),
        Stated(
            name="water film unbroken for",
            value=film,
            kind="memory",
            source="water-break test, ASTM F22; from memory, to be verified",
        ),
    ]
