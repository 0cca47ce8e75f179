"""A bath's strength: grams per litre, per cent by weight, degrees Baume, each from the other.

All strengths are those of the solution at 20 degC, before any metal has dissolved in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from stopout.errors import PlanError
from stopout.etching.records import Companion, Etchant

_REFERENCE_DEGC = 20.0
# 60 degF, the temperature at which the Baume scale compares a liquid with water.
_BAUME_DEGC = (60.0 - 32.0) / 1.8


@dataclass(frozen=True, slots=True, kw_only=True)
class BathStrength:
    """One strength in all its units.

    `fraction` is by weight; `deg_baume` is on the heavy scale, 145 - 145/SG at 60 degF.
    `as_given` is what the job file says. `water_g_per_ml` is the water to be poured for a
    millilitre of bath: without what a companion's stock solution brings along.
    """

    as_given: str
    g_per_l: float
    fraction: float
    mol_per_l: float
    density_g_per_ml: float
    deg_baume: float
    water_g_per_ml: float


def bath_strength(
    etchant: Etchant, value: float, unit: Literal["g/L", "%", "degBe"]
) -> BathStrength:
    """Express a strength in all units.

    Parameters
    ----------
    etchant : Etchant
        Whose density correlation is used.
    value : float
        The strength in `unit`.
    unit : {"g/L", "%", "degBe"}
        Grams per litre of solution, per cent by weight, or degrees on the heavy Baume scale.

    Raises
    ------
    PlanError
        If the strength is not above zero or beyond what the density correlation covers.
    """
    given = f"{value:g} {unit}"
    if not (math.isfinite(value) and value > 0.0):
        raise PlanError(f"{etchant.name}, a bath of {given}: the strength must be above zero")
    if unit == "%":
        fraction = value / 100.0
    elif unit == "g/L":
        fraction = _solve_fraction(etchant, value / 1000.0, _mass_per_ml, given)
    elif unit == "degBe":
        fraction = _solve_fraction(etchant, gravity_from_baume(value), _gravity, given)
    else:
        raise PlanError(f"strength in {unit!r} is not understood; use g/L, % or degBe")
    if fraction > etchant.max_fraction.value:
        raise PlanError(_too_strong(etchant, given), at=("etch",))
    density = density_g_per_ml(etchant, fraction)
    g_per_l = value if unit == "g/L" else 1000.0 * density * fraction
    return BathStrength(
        as_given=given,
        g_per_l=g_per_l,
        fraction=fraction,
        mol_per_l=g_per_l / etchant.molar_mass_g_per_mol.value,
        density_g_per_ml=density,
        deg_baume=value if unit == "degBe" else baume_from_gravity(_gravity(etchant, fraction)),
        water_g_per_ml=density - 1e-3 * (g_per_l + _companions_g_per_l(etchant, g_per_l)),
    )


def companion_stock_g_per_l(companion: Companion, reagent_g_per_l: float) -> float:
    """What is weighed of a companion for a litre of bath [g], as it is bought.

    Parameters
    ----------
    companion : Companion
        Dry, or bought as a solution.
    reagent_g_per_l : float
        Strength of the bath [g/L].
    """
    stock = companion.stock_fraction
    return _companion_g_per_l(companion, reagent_g_per_l) / (1.0 if stock is None else stock.value)


def density_g_per_ml(
    etchant: Etchant, fraction: float, temperature_degc: float = _REFERENCE_DEGC
) -> float:
    """Density of a solution [g/mL] of the given fraction by weight, its companions included.

    Notes
    -----
    Volumes of water and solutes add, each solute with the apparent specific volume
    (w + c2 + c3 t) / ((c0 w + c1) exp(1e-6 (t + c4)^2)), t in degC, w the fraction by weight of all
    solutes together. The water of a hydrate counts as water.

    References
    ----------
    M. Laliberte, A model for calculating the heat capacity of aqueous solutions, with updated
    density and viscosity data, J. Chem. Eng. Data 54 (2009) 1725, doi 10.1021/je8008123.
    """
    density = 1.0
    # A companion in grams per litre has a fraction that depends on the density looked for.
    for _ in range(40 if any(c.g_per_l for c in etchant.companions) else 1):
        before = density
        density = _density_of(_solutes(etchant, fraction, density), temperature_degc)
        if abs(density - before) < 1e-12:
            break
    return density


def _solutes(
    etchant: Etchant, fraction: float, density: float
) -> list[tuple[float, tuple[float, float, float, float, float]]]:
    """Fraction by weight and density coefficients of each solute."""
    dry = 1.0 if etchant.anhydrous_fraction is None else etchant.anhydrous_fraction.value
    g_per_l = 1000.0 * density * fraction
    others = [
        (_companion_g_per_l(c, g_per_l) / (1000.0 * density), c.density_c)
        for c in etchant.companions
    ]
    return [(dry * fraction, etchant.density_c), *others]


def _density_of(
    solutes: list[tuple[float, tuple[float, float, float, float, float]]], t: float
) -> float:
    w = sum(share for share, _ in solutes)
    volume = (1.0 - w) / (1000.0 * water_density_g_per_ml(t))
    for share, (c0, c1, c2, c3, c4) in solutes:
        volume += share * (w + c2 + c3 * t) / ((c0 * w + c1) * math.exp(1e-6 * (t + c4) ** 2))
    return 1e-3 / volume


def _companion_g_per_l(companion: Companion, reagent_g_per_l: float) -> float:
    """A companion itself, without the water of its stock solution [g/L of bath]."""
    if companion.g_per_l is not None:
        return companion.g_per_l.value
    return 0.0 if companion.g_per_g is None else companion.g_per_g.value * reagent_g_per_l


def _companions_g_per_l(etchant: Etchant, reagent_g_per_l: float) -> float:
    return sum(companion_stock_g_per_l(c, reagent_g_per_l) for c in etchant.companions)


def water_density_g_per_ml(temperature_degc: float) -> float:
    """Density of water at 101.325 kPa [g/mL], 0 to 150 degC.

    References
    ----------
    G. S. Kell, Density, thermal expansivity, and compressibility of liquid water from 0 to
    150 degC, J. Chem. Eng. Data 20 (1975) 97, doi 10.1021/je60064a005, equation for density.
    """
    t = temperature_degc
    powers = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
    return 1e-3 * sum(c * t**n for n, c in enumerate(powers)) / (1.0 + 16.879850e-3 * t)


def gravity_from_baume(deg_baume: float) -> float:
    """Specific gravity at 60/60 degF from the heavy Baume scale: 145 / (145 - degrees).

    Raises
    ------
    PlanError
        If the degrees are not between 0 and 145.
    """
    if not 0.0 <= deg_baume < 145.0:
        raise PlanError(f"{deg_baume:g} degBe is not on the heavy Baume scale (0 to 145)")
    return 145.0 / (145.0 - deg_baume)


def baume_from_gravity(gravity: float) -> float:
    """Degrees on the heavy Baume scale: 145 - 145 / SG, SG at 60/60 degF."""
    return 145.0 - 145.0 / gravity


def mixing_rise_k(etchant: Etchant, reagent_g: float, water_l: float) -> float | None:
    """How much the mixture warms when dry reagent goes into water, with no heat lost [K].

    Parameters
    ----------
    etchant : Etchant
        The reagent, from the tables.
    reagent_g : float
        Mass of the dry reagent [g].
    water_l : float
        Water [L], taken as 0.9982 kg/L.

    Returns
    -------
    float or None
        None where the reagent is bought as a solution and the heat is not in the table.
    """
    if etchant.solution_kj_per_g is None or not etchant.cp_at:
        return None
    total_g = reagent_g + 1000.0 * water_l * water_density_g_per_ml(_REFERENCE_DEGC)
    cp = _interpolated(
        reagent_g / total_g, etchant.cp_at, tuple(v.value for v in etchant.cp_j_per_g_k)
    )
    return 1000.0 * reagent_g * etchant.solution_kj_per_g.value / (total_g * cp)


def _mass_per_ml(etchant: Etchant, fraction: float) -> float:
    return fraction * density_g_per_ml(etchant, fraction)


def _gravity(etchant: Etchant, fraction: float) -> float:
    solution = density_g_per_ml(etchant, fraction, _BAUME_DEGC)
    return solution / water_density_g_per_ml(_BAUME_DEGC)


def _solve_fraction(
    etchant: Etchant, wanted: float, quantity: Callable[[Etchant, float], float], given: str
) -> float:
    """The fraction by weight at which a quantity that grows with it takes the wanted value."""
    low, high = 0.0, etchant.max_fraction.value
    if wanted > quantity(etchant, high) * (1.0 + 1e-12):
        raise PlanError(_too_strong(etchant, given), at=("etch",))
    for _ in range(60):
        middle = 0.5 * (low + high)
        if quantity(etchant, middle) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _too_strong(etchant: Etchant, given: str) -> str:
    most = etchant.max_fraction.value
    litre = 1000.0 * most * density_g_per_ml(etchant, most)
    return (
        f"{etchant.name}: a bath of {given} is stronger than the density data reach; "
        f"use at most {100.0 * most:g} % by weight ({litre:.0f} g/L)"
    )


def _interpolated(x: float, at: tuple[float, ...], values: tuple[float, ...]) -> float:
    """Straight lines between the points, the end values beyond them."""
    if x <= at[0]:
        return values[0]
    points = tuple(zip(at, values, strict=True))
    for (x0, y0), (x1, y1) in pairwise(points):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return values[-1]
