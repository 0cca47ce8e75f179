"""An etch put into words: each number with kind, grade and source, and what to heed."""

from __future__ import annotations

from stopout.etching.bath.electrolytic import Cell, Current, Electro
from stopout.etching.rates.rate import RateEstimate
from stopout.etching.records import Etchant, Pair, Resist, Sourced
from stopout.etching.result import EtchPlan, Pour
from stopout.units import format_number
from stopout.values import Kind, Measured, Stated


def sourced_stated(name: str, value: Sourced) -> Stated:
    """A value of the tables as the plan states it, its range included."""
    text = with_unit(value.value, value.unit)
    if value.low is not None and value.high is not None:
        text += f" ({format_number(value.low, digits=4)} to {format_number(value.high, digits=4)})"
    return Stated(
        name=name, value=text, kind=value.kind, source=value.source_and_note, grade=value.grade
    )


def given(name: str, value: Measured, unit: str, kind: Kind, source: str) -> Stated:
    """A value handed in, with its standard deviation if it has one."""
    text = with_unit(value.value, unit)
    if value.sd > 0.0:
        text += f" (sd {format_number(value.sd, digits=2)})"
    return Stated(name=name, value=text, kind=kind, source=source)


def computed(name: str, value: float, unit: str, how: str) -> Stated:
    """A value that the plan computes, with the formula in words as its source."""
    return Stated(name=name, value=with_unit(value, unit), kind="computed", source=how)


def rate_stated(estimate: RateEstimate) -> Stated:
    """The table's rate with its range, or the refusal to give one."""
    text = with_unit(estimate.um_per_min, "um/min")
    if any(finding.level == "stop" for finding in estimate.findings):
        text = f"not known for this bath ({text} at the end of the stated range)"
    elif estimate.high_um_per_min > estimate.low_um_per_min:
        text += f" ({estimate.low_um_per_min:.2g} to {estimate.high_um_per_min:.2g})"
    return Stated(
        name="etch rate",
        value=text,
        kind=estimate.kind,
        source=estimate.source,
        grade=estimate.grade,
    )


def cell_values(cell: Cell, current: Current, electro: Electro) -> tuple[Stated, ...]:
    """The values of the current, each with kind and source."""

    def of_job(name: str, text: str) -> Stated:
        return Stated(name=name, value=text, kind="given", source="job file")

    stated = [sourced_stated(f"electrons per atom in {cell.name}", cell.valence)]
    if current.efficiency is not None:
        stated.append(of_job("current efficiency", f"{current.efficiency.value:.3g}"))
    else:
        stated.append(sourced_stated("current efficiency", cell.efficiency))
    if current.current_a is not None:
        stated.append(of_job("current", f"{current.current_a:.4g} A"))
    elif current.density_a_per_cm2 is not None:
        stated.append(of_job("current density", f"{current.density_a_per_cm2:.4g} A/cm2"))
    else:
        stated.append(sourced_stated("current density", cell.density_a_per_cm2))
    return (
        *stated,
        sourced_stated("usual voltage", cell.voltage_v),
        sourced_stated("paint lifts from", cell.lift_v),
        computed(
            "charge, pieces in the bath together",
            electro.charge_ah,
            "Ah",
            "m n F / (M efficiency), Faraday's law; F of CODATA 2018",
        ),
    )


def etch_factor_stated(pair: Pair, used: Measured) -> Stated:
    """The table's etch factor with its range and what is meant by it."""
    stated = sourced_stated("etch factor", pair.etch_factor)
    return Stated(
        name=stated.name,
        value=f"{stated.value}, sd {format_number(used.sd, digits=2)}",
        kind=stated.kind,
        source=f"depth / undercut per edge; {stated.source}",
        grade=stated.grade,
    )


def with_unit(value: float, unit: str) -> str:
    """Four significant digits and the unit."""
    return f"{format_number(value, digits=4)} {unit}".strip()


def stated_values(pair: Pair, plan: EtchPlan) -> tuple[Stated, ...]:
    material, etchant = pair.material, pair.etchant
    from_table: list[tuple[str, Sourced | None]] = [
        (f"density of {material.name}", material.density_g_per_cm3),
        (f"molar mass of {material.name}", material.molar_mass_g_per_mol),
        (f"molar mass of {etchant.reagent}", etchant.molar_mass_g_per_mol),
        ("reagent per mole of metal", pair.reagent_mol_per_mol),
        ("gas per mole of metal", pair.gas_mol_per_mol),
        ("heat per mole of metal", pair.heat_kj_per_mol),
        ("heat capacity of the bath", pair.heat_capacity_kj_per_l_k),
        ("dissolved metal to plan with", pair.capacity_g_per_l),
        ("share of the reagent that may be used up", pair.capacity_share),
        *_companion_values(etchant),
    ]
    if plan.mixing_rise_k is not None:
        from_table.append(("heat of solution", etchant.solution_kj_per_g))
    from_table += [
        (f"lower flammable limit of {pair.gas}", pair.gas_lower_flammable_fraction),
        ("warmest usual under paint", pair.hot_paint_degc),
        ("deepest usual under paint", pair.paint_depth_mm),
        *((f"neutralised by {way.name}", way.g_per_g) for way in pair.neutralisers),
    ]
    return (
        *(sourced_stated(name, value) for name, value in from_table if value is not None),
        computed("undercut", plan.undercut_mm, "mm", "depth / etch factor, per edge"),
        computed("etch time", plan.time_s / 60.0, "min", "depth / rate"),
        computed("metal removed", plan.metal_removed_g, "g", "volume with walls x density"),
        computed("bath", plan.bath_l, "L", "max(heat / (heat capacity x rise), metal / capacity)"),
        computed("bath that covers", plan.bath_cover_l, "L", _cover_words(plan.pour)),
        _rise_stated(plan),
        computed("strength", plan.strength.g_per_l, "g/L", _strength_words(pair, plan)),
    )


def _cover_words(pour: Pour) -> str:
    if pour.is_proposed:
        return "one piece: (width + 40 mm) x (height + 40 mm) x 15 mm"
    width, height = pour.tray_mm
    return f"floor x depth: {width:g} mm x {height:g} mm x {pour.cover_mm:g} mm"


def _companion_values(etchant: Etchant) -> list[tuple[str, Sourced | None]]:
    """What goes into the bath besides its reagent: how much, and how strong as bought."""
    found: list[tuple[str, Sourced | None]] = []
    for companion in etchant.companions:
        found += [
            (f"{companion.name} per gram of {etchant.reagent}", companion.g_per_g),
            (f"{companion.name} per litre of bath", companion.g_per_l),
            (f"{companion.name} as bought", companion.stock_fraction),
        ]
    return found


def _rise_stated(plan: EtchPlan) -> Stated:
    is_default = not plan.is_rise_said
    return Stated(
        name="rise that the bath may take",
        value=with_unit(plan.rise_k, "K"),
        kind="practice" if is_default else "given",
        source="left out, the default; our own rule" if is_default else "job file",
    )


def resist_values(
    resist: Resist,
    *,
    etchant: Etchant | None = None,
    thickness_um: float | None = None,
    of: str = "",
    whose: str = "job file",
) -> tuple[Stated, ...]:
    """What the table says of a resist or coat, as the plan states it.

    Parameters
    ----------
    resist : Resist
        The paint.
    etchant : Etchant, optional
        The bath that it must stand; None where nothing is etched.
    thickness_um : float, optional
        Dry coat as the job file gives it [um]; left out, the table's.
    of : str
        What to add to each name, such as `" of coat 2"`.
    whose : str
        Who gave the thickness.
    """
    thickness = f"thickness{of}" if of else "coat thickness"
    if thickness_um is None:
        stated = [sourced_stated(thickness, resist.thickness_um)]
    else:
        stated = [given(thickness, Measured(value=thickness_um), "um", "given", whose)]
    stated.append(sourced_stated(f"cure{of}", resist.cure_h))
    if resist.thin_coats is not None:
        stated.append(sourced_stated(f"thin coats{of}", resist.thin_coats))
    for limit in resist.limits:
        if etchant is None or limit.etchant != etchant.ident:
            continue
        named = (("warmest", limit.max_degc), ("longest", limit.max_time_s))
        stated += [
            sourced_stated(f"{which} for {resist.name} in {etchant.name}", value)
            for which, value in named
            if value is not None
        ]
    return tuple(stated)


def _strength_words(pair: Pair, plan: EtchPlan) -> str:
    strength = plan.strength
    return (
        f"given as {strength.as_given}; {100.0 * strength.fraction:.3g} % by weight, "
        f"{strength.density_g_per_ml:.4g} g/mL, {strength.deg_baume:.3g} degBe (heavy scale) at "
        f"20 degC; density: {pair.etchant.density_source.source}"
    )
