"""From the options of `stopout bath` to what the library is asked, and to all that is printed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.cli.bathing.asked import Answer, Asked
from stopout.cli.bathing.options import (
    count,
    maybe,
    nought_or,
    parsed,
    plain,
    positive,
    strength_of,
)
from stopout.cli.sizes import parse_size_mm
from stopout.errors import StopoutError, UnitError
from stopout.library.bath import AGITATIONS, BathAnswer, BathQuestion, plan_bath
from stopout.units import (
    parse_area_mm2,
    parse_current_a,
    parse_current_density_a_per_cm2,
    parse_difference_k,
    parse_length_mm,
    parse_mass_g,
    parse_rate_um_per_min,
    parse_temperature_degc,
    parse_time_s,
    parse_voltage_v,
    parse_volume_l,
)

if TYPE_CHECKING:
    from stopout.etching import EtchPlan, Remaining
    from stopout.values import Finding

__all__ = ["answer_of"]


def answer_of(asked: Asked, own_tables: Path | None) -> Answer:
    """Plan what the options ask for.

    Parameters
    ----------
    asked : Asked
        The options.
    own_tables : Path or None
        The shop's own tables.

    Raises
    ------
    StopoutError
        In one sentence, naming the option.
    """
    question = _question(asked)
    left = _remaining(question.depth_mm, asked.measured_depth, asked.after, asked.error)
    loss_g = maybe("--loss", asked.loss, parse_mass_g)
    answer = plan_bath(question, own_tables=own_tables)
    if answer.plan is not None:
        found = [*answer.findings, *_left_out(answer.plan, asked)]
        rank = {"stop": 0, "caution": 1, "note": 2}
        answer = replace(answer, findings=tuple(sorted(found, key=lambda one: rank[one.level])))
    return Answer(
        asked=asked,
        answer=answer,
        left=left,
        loss_g=loss_g,
        lost_mm=_mean_depth(loss_g, answer),
    )


def _question(asked: Asked) -> BathQuestion:
    _check_current(asked)
    if asked.agitation not in AGITATIONS:
        raise StopoutError(f"--agitation: {asked.agitation!r} is none of {', '.join(AGITATIONS)}")
    at_once = asked.plates_at_once
    size = None if asked.size is None else parse_size_mm("--size", asked.size)
    area_mm2 = positive("--area", asked.area, parse_area_mm2)
    if size is not None and area_mm2 > size[0] * size[1]:
        raise UnitError(
            f"--area: {area_mm2 / 100:g} cm^2 is more than the piece of --size "
            f"{size[0]:g} x {size[1]:g} mm has; give the open area of one piece"
        )
    return BathQuestion(
        material=asked.material,
        etchant=asked.etchant,
        depth_mm=positive("--depth", asked.depth, parse_length_mm),
        opening_area_mm2=area_mm2,
        opening_edge_mm=nought_or("--edge", asked.edge, parse_length_mm),
        opening_parts=count("--parts", asked.parts, 1),
        opening_islands=count("--islands", asked.islands, 0),
        strength=None if asked.strength is None else strength_of("--strength", asked.strength),
        temperature_degc=None
        if asked.temperature is None
        else parsed("--temperature", asked.temperature, parse_temperature_degc),
        agitation=asked.agitation,
        rate_um_per_min=plain("--rate", maybe("--rate", asked.rate, parse_rate_um_per_min), 1e4),
        etch_factor=plain("--etch-factor", asked.etch_factor, 100.0),
        rise_k=maybe("--rise", asked.rise, parse_difference_k),
        is_cooled=asked.cooled,
        quantity=count("--quantity", asked.quantity, 1),
        spares=count("--spares", asked.spares, 0),
        coupon_area_mm2=nought_or("--coupon-area", asked.coupon_area, parse_area_mm2),
        blank_size_mm=size,
        thickness_mm=maybe("--thickness", asked.thickness, parse_length_mm),
        is_filled=asked.filled,
        resist=asked.resist,
        tray_mm=None if asked.tray is None else parse_size_mm("--tray", asked.tray),
        plates_at_once=None if at_once is None else count("--plates-at-once", at_once, 1),
        dissolved_g_per_l=_dissolved(asked.dissolved),
        volume_l=maybe("--volume", asked.volume, parse_volume_l),
        stock=None if asked.stock is None else strength_of("--stock", asked.stock),
        electrolyte=asked.electrolyte,
        current_a=maybe("--current", asked.current, parse_current_a),
        current_density_a_per_cm2=maybe(
            "--current-density", asked.current_density, parse_current_density_a_per_cm2
        ),
        voltage_v=maybe("--voltage", asked.voltage, parse_voltage_v),
        efficiency=plain("--efficiency", asked.efficiency, 1.5),
        is_chromate_acknowledged=asked.chromate_acknowledged,
    )


def _check_current(asked: Asked) -> None:
    """What only a current takes, and what it takes the place of, told with the options' names."""
    from stopout.tables import ELECTROLYTIC, electrolytes_for

    if asked.etchant != ELECTROLYTIC:
        if asked.electrolyte is not None:
            raise StopoutError("--electrolyte is for --etchant electrolytic; leave it out")
        if (asked.current, asked.current_density, asked.voltage) != (None, None, None):
            raise StopoutError("a current is for --etchant electrolytic; leave it out")
        return
    if asked.electrolyte is None:
        known = ", ".join(electrolytes_for(asked.material)) or "none is known"
        raise StopoutError(f"--electrolyte is missing; for {asked.material}: {known}")
    if asked.current is not None and asked.current_density is not None:
        raise StopoutError("give --current or --current-density, not both")
    if asked.rate is not None:
        raise StopoutError("--rate follows from the current; give --efficiency as measured")


def _dissolved(written: str | None) -> float:
    if written is None:
        return 0.0
    metal, unit = strength_of("--dissolved", written)
    if unit != "g/L":
        raise UnitError(f"--dissolved: {written} is no metal per litre; give it as 6g/L")
    return metal


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


def _remaining(
    depth_mm: float, measured: str | None, after: str | None, error: str | None
) -> Remaining | None:
    """The time that is left, where a depth was measured on the way."""
    if measured is None and after is None:
        if error is not None:
            raise StopoutError("--error belongs to --measured-depth; give that, and --after")
        return None
    if measured is None or after is None:
        raise StopoutError("--measured-depth and --after go together: a depth, and the time so far")
    from stopout.etching import remaining_time

    return remaining_time(
        depth_mm=depth_mm,
        measured_depth_mm=positive("--measured-depth", measured, parse_length_mm),
        after_s=positive("--after", after, parse_time_s),
        error_mm=nought_or("--error", error, parse_length_mm),
    )


def _mean_depth(loss_g: float | None, answer: BathAnswer) -> float | None:
    if loss_g is None or answer.plan is None or answer.pair is None:
        return None
    from stopout.etching import mean_depth_mm

    asked = answer.question
    return mean_depth_mm(
        loss_g=loss_g,
        density_g_per_cm3=answer.pair.material.density_g_per_cm3.value,
        opening_area_mm2=asked.opening_area_mm2,
        opening_edge_mm=asked.opening_edge_mm,
        parts=asked.opening_parts,
        holes=asked.opening_islands,
        etch_factor=answer.plan.etch_factor.value,
    )
