"""Etching by a current: Faraday's law, the supply, and the gases at both electrodes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from stopout.errors import PlanError
from stopout.etching.bath.amounts import metal_molar_mass, molar_volume_l
from stopout.etching.records import Pair, Sourced
from stopout.units import format_least, format_rounded
from stopout.values import Finding, Level, Measured

# CODATA 2018: the elementary charge times the Avogadro constant, both exact since 2019.
FARADAY_C_PER_MOL = 96485.33212
# Above this, a supply is no longer harmless to wet hands. Common practice, no source.
_SAFE_V = 24.0
# What a supply should be able to give beyond the planned current. Common practice, no source.
_SUPPLY_MARGIN = 1.25
# Ceiling of the recommended exposure to chlorine, NIOSH: 0.5 ppm (from memory).
_CHLORINE_PPM = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What the tables know of a metal dissolving in an electrolyte.

    Attributes
    ----------
    valence : Sourced
        Electrons per atom dissolved; for an alloy the mean over its atoms.
    efficiency : Sourced
        Share of the current that dissolves metal, with its range.
    density_a_per_cm2, voltage_v : Sourced
        Usual current density on the open metal and usual voltage, with their ranges.
    lift_v : Sourced
        The voltage above which paint is known to lift.
    plates_out : bool
        True where the metal is deposited on the cathode instead of hydrogen given off there.
    chlorine_share : Sourced or None
        Share of the current that makes chlorine; None where the electrolyte holds no chloride.
    makes_chromate : bool
        True where the liquor may come to hold chromate.
    """

    electrolyte: str
    name: str
    valence: Sourced
    efficiency: Sourced
    density_a_per_cm2: Sourced
    voltage_v: Sourced
    lift_v: Sourced
    plates_out: bool
    chlorine_share: Sourced | None = None
    makes_chromate: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Current:
    """What the job says of the current. One of `current_a` and `density_a_per_cm2`, or neither.

    `current_a` is that of all the pieces in the bath together. `voltage_v` is what the supply
    shows; it decides the heat and is held against what lifts paint.
    """

    current_a: float | None = None
    density_a_per_cm2: float | None = None
    efficiency: Measured | None = None
    voltage_v: float | None = None
    is_chromate_acknowledged: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Electro:
    """The planned current, for the pieces that lie in the bath together.

    `charge_c` is for them; `efficiency_low` and `efficiency_high` bound the time. `supply_a` and
    `supply_v` are what the supply must be able to give; `voltage_high_v` is where to stay below.
    """

    electrolyte: str
    valence: float
    efficiency: Measured
    efficiency_low: float
    efficiency_high: float
    current_a: float
    density_a_per_cm2: float
    voltage_v: float
    voltage_high_v: float
    charge_c: float
    supply_a: float
    supply_v: float
    hydrogen_ml_per_min: float
    chlorine_ml_per_min: float | None
    chlorine_air_l_per_min: float | None

    @property
    def charge_ah(self) -> float:
        """The charge in ampere hours."""
        return self.charge_c / 3600.0


def charge_c(
    metal_g: float, molar_mass_g_per_mol: float, valence: float, efficiency: float = 1.0
) -> float:
    """Charge that dissolves a mass of metal [C]: m n F / (M efficiency), Faraday's law."""
    return metal_g * valence * FARADAY_C_PER_MOL / (molar_mass_g_per_mol * efficiency)


def hydrogen_ml_per_min(current_a: float) -> float:
    """Hydrogen at the cathode [mL/min], dry at 25 degC and 101.325 kPa: two electrons a mole."""
    return current_a * 60.0 / (2.0 * FARADAY_C_PER_MOL) * molar_volume_l() * 1000.0


def chlorine_ml_per_min(current_a: float, share: float) -> float:
    """Chlorine at the anode [mL/min] if a share of the current makes it: two electrons a mole."""
    return share * hydrogen_ml_per_min(current_a)


def chlorine_air_l_per_min(chlorine_ml_per_min: float, limit_ppm: float = _CHLORINE_PPM) -> float:
    """Air [L/min] that thins chlorine to a limit, for perfect mixing."""
    return chlorine_ml_per_min * 1e-3 / (limit_ppm * 1e-6)


def plan_current(
    pair: Pair, cell: Cell, current: Current, *, metal_at_once_g: float, opening_at_once_mm2: float
) -> Electro:
    """Plan the current for the pieces that lie in the bath together.

    Parameters
    ----------
    pair : Pair
        The metal.
    cell : Cell
        What the table knows.
    current : Current
        What the job says.
    metal_at_once_g, opening_at_once_mm2 : float
        Metal to dissolve from those pieces, walls included [g], and their open area [mm^2].

    Raises
    ------
    PlanError
        If there is no open metal.
    """
    if not opening_at_once_mm2 > 0.0:
        raise PlanError(
            "no metal is open to the current; check the artwork and `dark`", at=("artwork", "file")
        )
    area_cm2 = opening_at_once_mm2 / 100.0
    density = current.density_a_per_cm2 or cell.density_a_per_cm2.value
    amps = current.current_a if current.current_a is not None else density * area_cm2
    efficiency = current.efficiency or Measured(value=cell.efficiency.value)
    low, high = _efficiency_range(cell, current)
    # Without a voltage the most that the sheet allows is assumed.
    volts = current.voltage_v or min(_high(cell.voltage_v), cell.lift_v.value)
    chlorine = None
    if cell.chlorine_share is not None:
        chlorine = chlorine_ml_per_min(amps, cell.chlorine_share.value)
    return Electro(
        electrolyte=cell.electrolyte,
        valence=cell.valence.value,
        efficiency=efficiency,
        efficiency_low=low,
        efficiency_high=high,
        current_a=amps,
        density_a_per_cm2=amps / area_cm2,
        voltage_v=volts,
        voltage_high_v=cell.lift_v.value,
        charge_c=charge_c(
            metal_at_once_g, metal_molar_mass(pair), cell.valence.value, efficiency.value
        ),
        supply_a=_SUPPLY_MARGIN * amps,
        # A supply that could go beyond what lifts paint is not asked for.
        supply_v=max(volts, min(_high(cell.voltage_v), cell.lift_v.value)),
        hydrogen_ml_per_min=0.0 if cell.plates_out else hydrogen_ml_per_min(amps),
        chlorine_ml_per_min=chlorine,
        chlorine_air_l_per_min=None if chlorine is None else chlorine_air_l_per_min(chlorine),
    )


def _efficiency_range(cell: Cell, current: Current) -> tuple[float, float]:
    if current.efficiency is not None:
        value, sd = current.efficiency.value, current.efficiency.sd
        return max(value - sd, 0.1 * value), value + sd
    low = cell.efficiency.low or cell.efficiency.value
    return low, _high(cell.efficiency)


def _high(value: Sourced) -> float:
    return value.value if value.high is None else value.high


def cell_pair(pair: Pair, electro: Electro, *, plates_out: bool) -> Pair:
    """The pair with the heat and the gas of this current, per mole of metal dissolved.

    All the electrical energy is counted as heat in the bath; hydrogen takes every electron, the
    ones that dissolve no metal included.
    """
    electrons = electro.valence / electro.efficiency.value
    heat = electrons * FARADAY_C_PER_MOL * electro.voltage_v / 1000.0
    return replace(
        pair,
        heat_kj_per_mol=_computed(heat, "kJ/mol", "n F U / efficiency, all of it in the bath"),
        gas_mol_per_mol=_computed(
            0.0 if plates_out else electrons / 2.0, "mol/mol", "n / (2 efficiency), Faraday's law"
        ),
    )


def _computed(value: float, unit: str, how: str) -> Sourced:
    return Sourced(value=value, unit=unit, kind="computed", source=how)


def cell_findings(cell: Cell, current: Current, electro: Electro) -> tuple[Finding, ...]:
    """What the current can do to the resist and to those who stand beside it."""
    return (
        *_chromate(cell, current),
        *_voltage(cell, current, electro),
        *_density(cell, electro),
        *_chlorine(cell, electro),
    )


def _chromate(cell: Cell, current: Current) -> Iterator[Finding]:
    if not cell.makes_chromate:
        return
    message = (
        f"stainless steel dissolved by a current in {cell.name} can leave soluble chromate "
        "(chromium VI, poisonous, causes cancer) and nickel in the liquor"
    )
    if current.is_chromate_acknowledged:
        remedy = (
            "Treat liquor, rinse and sludge as chromate: gloves, no mist, no heating, nothing "
            "down the drain, licensed carrier only; do not try to reduce it in the shop."
        )
        yield Finding.caution("chromate-acknowledged", message, remedy)
        return
    remedy = (
        "Etch stainless steel in ferric chloride instead. Where a licensed carrier takes chromate "
        "liquor and the local code allows it, acknowledge it (chromate_acknowledged)."
    )
    yield Finding.stop("chromate", message, remedy)


def _voltage(cell: Cell, current: Current, electro: Electro) -> Iterator[Finding]:
    if electro.voltage_v > _SAFE_V:
        message = f"{electro.voltage_v:g} V over a wet tray can kill; at most {_SAFE_V:g} V"
        remedy = "Use an isolated low-voltage supply and less current."
        yield Finding.stop("voltage-high", message, remedy)
        return
    # Without a voltage the heat is that at the limit itself, which says nothing of the supply.
    if current.voltage_v is not None and electro.voltage_v >= cell.lift_v.value * (1 - 1e-9):
        message = (
            f"{electro.voltage_v:g} V is not below the {cell.lift_v.value:g} V at which paint "
            f"is known to lift in {cell.name} ({cell.lift_v.source})"
        )
        remedy = (
            f"Set less current, so that the supply shows less than {cell.lift_v.value:g} V; "
            "bring the electrodes no nearer than 60 mm to each other."
        )
        yield Finding.caution("voltage-lift", message, remedy)


def _density(cell: Cell, electro: Electro) -> Iterator[Finding]:
    usual = cell.density_a_per_cm2
    low, high = usual.low or usual.value, _high(usual)
    density = electro.density_a_per_cm2
    if low * (1 - 1e-9) <= density <= high * (1 + 1e-9):
        return
    is_high = density > high
    message = (
        f"{density:.3g} A/cm2 on the open metal is {'more' if is_high else 'less'} than the usual "
        f"{low:g} to {high:g} A/cm2 in {cell.name} ({usual.source})"
    )
    remedy = f"Set {low * _open_cm2(electro):.2g} to {high * _open_cm2(electro):.2g} A."
    if is_high:
        remedy += " Above that the anode gases and paint lifts at its edges."
    yield Finding(
        code="current-density",
        level=Level.CAUTION if is_high else Level.NOTE,
        message=message,
        remedy=remedy,
    )


def _open_cm2(electro: Electro) -> float:
    """Open area in the bath [cm^2]: current over current density."""
    return electro.current_a / electro.density_a_per_cm2


def _chlorine(cell: Cell, electro: Electro) -> Iterator[Finding]:
    share, air = cell.chlorine_share, electro.chlorine_air_l_per_min
    if share is None or electro.chlorine_ml_per_min is None or air is None:
        return
    message = (
        "chloride under a current can give off chlorine: "
        f"{format_rounded(electro.chlorine_ml_per_min)} mL/min if "
        f"{100 * share.value:g} % of the current made it, and hypochlorite builds up at the cathode"
    )
    remedy = (
        f"Outdoors or with extraction; {format_least(air)} L/min of air "
        f"would thin that much to {_CHLORINE_PPM:g} ppm. Never acid into used brine, no graphite "
        "or stainless dummy as the anode, stop at any smell of chlorine."
    )
    yield Finding.caution("chlorine", message, remedy)
