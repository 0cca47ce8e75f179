"""From the options of `stopout bath` to the planned etch and all that is to be said of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stopout.cli.bathing.asked import Answer, Asked, Opening
from stopout.cli.bathing.checks import more_findings, refused_now
from stopout.cli.bathing.options import (
    count,
    maybe,
    measured,
    nought_or,
    parsed,
    positive,
    strength_of,
    two_lengths,
)
from stopout.errors import StopoutError, UnitError
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
    from stopout.etching import (
        BathStrength,
        BathUse,
        Cell,
        Current,
        Etchant,
        EtchPlan,
        Pair,
        Remaining,
    )
    from stopout.etching.records import RateReference
    from stopout.values import Finding

__all__ = ["plan_bath"]

_ROOM_DEGC = 25.0
_AGITATIONS = ("tray", "rocked", "bubbled", "spray")


def plan_bath(asked: Asked, findings: tuple[Finding, ...] = ()) -> Answer:
    """Plan what the options ask for.

    Parameters
    ----------
    asked : Asked
        The options.
    findings : tuple of Finding
        What is to be said besides, such as whose tables are used.

    Raises
    ------
    StopoutError
        In one sentence, naming the option.
    """
    opening = Opening(
        area_mm2=positive("--area", asked.area, parse_area_mm2),
        edge_mm=nought_or("--edge", asked.edge, parse_length_mm),
        parts=count("--parts", asked.parts, 1),
        islands=count("--islands", asked.islands, 0),
    )
    depth_mm = positive("--depth", asked.depth, parse_length_mm)
    left = _remaining(depth_mm, asked.measured_depth, asked.after, asked.error)
    if asked.agitation not in _AGITATIONS:
        raise StopoutError(f"--agitation: {asked.agitation!r} is none of {', '.join(_AGITATIONS)}")
    strength = None if asked.strength is None else strength_of("--strength", asked.strength)
    # The stops that hold at any strength: no table need know the bath then.
    refused = refused_now(asked.material, asked.etchant, asked.resist, None)
    refused = [finding for finding in refused if finding.level == "stop"]
    if refused:
        return Answer(asked=asked, findings=tuple(refused), opening=opening)
    pair, cell = _pair(asked.material, asked.etchant, asked.electrolyte)
    bath = _of(pair.etchant, strength or _usual_strength(pair, asked.agitation))
    plan = _planned(asked, opening, pair, cell, bath, depth_mm)
    found = [
        *plan.findings,
        *findings,
        *more_findings(plan, pair, asked),
        *refused_now(asked.material, asked.etchant, asked.resist, bath.g_per_l),
    ]
    loss_g = maybe("--loss", asked.loss, parse_mass_g)
    return Answer(
        asked=asked,
        findings=_sorted(found),
        opening=opening,
        pair=pair,
        plan=plan,
        left=left,
        loss_g=loss_g,
        lost_mm=_mean_depth(loss_g, pair, plan, opening),
    )


def _planned(
    asked: Asked,
    opening: Opening,
    pair: Pair,
    cell: Cell | None,
    strength: BathStrength,
    depth_mm: float,
) -> EtchPlan:
    from stopout.etching import plan_etch
    from stopout.tables import load_sludge

    size = None if asked.size is None else two_lengths("--size", asked.size)
    if size is not None and opening.area_mm2 > size[0] * size[1]:
        raise UnitError(
            f"--area: {opening.area_mm2 / 100:g} cm^2 is more than the piece of --size "
            f"{size[0]:g} x {size[1]:g} mm has; give the open area of one piece"
        )
    um_per_min = maybe("--rate", asked.rate, parse_rate_um_per_min)
    return plan_etch(
        pair,
        strength=strength,
        temperature_degc=_temperature_degc(asked, pair),
        depth_mm=depth_mm,
        etch_factor=measured("--etch-factor", asked.etch_factor, 100.0),
        rate_um_per_min=measured("--rate", um_per_min, 1e4),
        rise_k=maybe("--rise", asked.rise, parse_difference_k),
        opening_area_mm2=opening.area_mm2,
        opening_edge_mm=opening.edge_mm,
        opening_parts=opening.parts,
        opening_holes=opening.islands,
        quantity=count("--quantity", asked.quantity, 1),
        blank_size_mm=size,
        agitation=asked.agitation,
        use=_use(pair.etchant, asked),
        sludge=None if cell is not None else load_sludge(asked.material, asked.etchant),
        cell=cell,
        current=_current(cell, asked),
    )


def _reference(pair: Pair, agitation: str) -> RateReference | None:
    """The table's reference for this way of moving the bath; else the first that it has."""
    found = [reference for reference in pair.rates if agitation in reference.agitation]
    return next(iter((*found, *pair.rates)), None)


def _usual_strength(pair: Pair, agitation: str) -> tuple[float, str]:
    """The strength of the table's reference; a tenth by weight for an electrolyte."""
    reference = _reference(pair, agitation)
    return (10.0, "%") if reference is None else (reference.strength_g_per_l, "g/L")


def _temperature_degc(asked: Asked, pair: Pair) -> float:
    """As given; else that of the room, where the table's reference reaches it."""
    if asked.temperature is not None:
        return parsed("--temperature", asked.temperature, parse_temperature_degc)
    reference = _reference(pair, asked.agitation)
    if reference is None:
        return _ROOM_DEGC
    low, high = reference.temperature_range_degc
    return _ROOM_DEGC if low <= _ROOM_DEGC <= high else reference.temperature_degc


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


def _pair(material: str, etchant: str, electrolyte: str | None) -> tuple[Pair, Cell | None]:
    from stopout.tables import ELECTROLYTIC, electrolytes_for, load_cell, load_pair

    if etchant != ELECTROLYTIC:
        if electrolyte is not None:
            raise StopoutError("--electrolyte is for --etchant electrolytic; leave it out")
        return load_pair(material, etchant), None
    if electrolyte is None:
        known = ", ".join(electrolytes_for(material)) or "none is known"
        raise StopoutError(f"--electrolyte is missing; for {material}: {known}")
    return load_cell(material, electrolyte)


def _of(etchant: Etchant, given: tuple[float, str]) -> BathStrength:
    from stopout.etching import bath_strength

    return bath_strength(etchant, value=given[0], unit=given[1])  # type: ignore[arg-type]


def _use(etchant: Etchant, asked: Asked) -> BathUse:
    from stopout.etching import BathUse

    dissolved, tray, stock, at_once = asked.dissolved, asked.tray, asked.stock, asked.plates_at_once
    metal = 0.0
    if dissolved is not None:
        metal, unit = strength_of("--dissolved", dissolved)
        if unit != "g/L":
            raise UnitError(f"--dissolved: {dissolved} is no metal per litre; give it as 6g/L")
    return BathUse(
        dissolved_g_per_l=metal,
        volume_l=maybe("--volume", asked.volume, parse_volume_l),
        tray_mm=None if tray is None else two_lengths("--tray", tray),
        plates_at_once=None if at_once is None else count("--plates-at-once", at_once, 1),
        stock=None if stock is None else _of(etchant, strength_of("--stock", stock)),
        coupon_area_mm2=nought_or("--coupon-area", asked.coupon_area, parse_area_mm2),
        spares=count("--spares", asked.spares, 0),
        is_cooled=asked.cooled,
    )


def _current(cell: Cell | None, asked: Asked) -> Current:
    """What the job says of the current; refused where no current etches."""
    from stopout.etching import Current

    current = Current(
        current_a=maybe("--current", asked.current, parse_current_a),
        density_a_per_cm2=maybe(
            "--current-density", asked.current_density, parse_current_density_a_per_cm2
        ),
        voltage_v=maybe("--voltage", asked.voltage, parse_voltage_v),
        efficiency=measured("--efficiency", asked.efficiency, 1.5),
        is_chromate_acknowledged=asked.chromate_acknowledged,
    )
    if cell is None:
        if (current.current_a, current.density_a_per_cm2, current.voltage_v) != (None, None, None):
            raise StopoutError("a current is for --etchant electrolytic; leave it out")
        return current
    if current.current_a is not None and current.density_a_per_cm2 is not None:
        raise StopoutError("give --current or --current-density, not both")
    if asked.rate is not None:
        raise StopoutError("--rate follows from the current; give --efficiency as measured")
    return current


def _mean_depth(loss_g: float | None, pair: Pair, plan: EtchPlan, opening: Opening) -> float | None:
    if loss_g is None:
        return None
    from stopout.etching import mean_depth_mm

    return mean_depth_mm(
        loss_g=loss_g,
        density_g_per_cm3=pair.material.density_g_per_cm3.value,
        opening_area_mm2=opening.area_mm2,
        opening_edge_mm=opening.edge_mm,
        parts=opening.parts,
        holes=opening.islands,
        etch_factor=plan.etch_factor.value,
    )


def _sorted(findings: list[Finding]) -> tuple[Finding, ...]:
    rank = {"stop": 0, "caution": 1, "note": 2}
    return tuple(sorted(dict.fromkeys(findings), key=lambda finding: rank[finding.level]))
