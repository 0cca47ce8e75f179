"""Amounts: what an etch removes, uses up, gives off, and the bath that it needs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.errors import PlanError
from stopout.etching.bath.strength import BathStrength, water_density_g_per_ml
from stopout.etching.rates.rate import GAS_CONSTANT_J_PER_MOL_K
from stopout.etching.records import Pair, Sourced

_STANDARD_ATMOSPHERE_PA = 101_325.0
_ZERO_DEGC_K = 273.15
# Bath planned over a piece that lies in its tray. Our own rule.
COVER_MM = 15.0
_TRAY_MARGIN_MM = 20.0
# Past this share of what the reagent could dissolve at all, an etch slows to a crawl. Our rule.
_SHARE_OF_CEILING = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Sludge:
    """Dry hydroxide that falls out of a spent bath, per gram of metal and of reagent in it."""

    per_g_metal: Sourced
    per_g_reagent: Sourced | None = None


def undercut_mm(depth_mm: float, etch_factor: float) -> float:
    """Undercut per edge [mm]: depth / etch factor.

    Raises
    ------
    PlanError
        If the etch factor is not above zero.

    References
    ----------
    D. M. Allen, D. F. Horne and G. W. W. Stevens, Quantitative examination of photofabricated
    profiles (1982): the etch factor is the depth of etch divided by the undercut.
    """
    if not etch_factor > 0.0:
        raise PlanError(
            f"an etch factor of {etch_factor:g} is not possible; it is depth / undercut per edge, "
            "for instance 1.0"
        )
    return depth_mm / etch_factor


def undercut_spread_mm(depth_mm: float, etch_factor: float, etch_factor_sd: float) -> float:
    """Standard deviation of the undercut [mm] to first order: depth sd / F^2."""
    return undercut_mm(depth_mm, etch_factor) * etch_factor_sd / etch_factor


def etch_volume_mm3(
    *,
    opening_area_mm2: float,
    opening_edge_mm: float,
    parts: int,
    holes: int,
    depth_mm: float,
    undercut_mm: float,
) -> float:
    """Metal removed through an opening [mm^3], side walls included.

    Parameters
    ----------
    opening_area_mm2, opening_edge_mm : float
        Area of the resist opening and the length of its whole boundary, holes included.
    parts, holes : int
        How many parts the opening has, and how many holes (islands of resist) in all.
    depth_mm, undercut_mm : float
        Depth at the open floor and undercut per edge.

    Notes
    -----
    A d + (pi/4) u d L + (2/3) pi u^2 d (parts - holes). The walls are quarter ellipses with the
    half axes u and d: at the depth z the edge stands u sqrt(1 - (z/d)^2) outside the opening's.
    Integrating Steiner's formula A + L s + pi s^2 (parts - holes) over the depth gives the three
    terms; exact where the widened edges do not meet.
    """
    walls = math.pi / 4.0 * undercut_mm * depth_mm * opening_edge_mm
    corners = 2.0 / 3.0 * math.pi * undercut_mm**2 * depth_mm * (parts - holes)
    return opening_area_mm2 * depth_mm + walls + corners


def molar_volume_l(temperature_degc: float = 25.0) -> float:
    """Volume of one mole of dry ideal gas at 101.325 kPa [L]."""
    kelvin = temperature_degc + _ZERO_DEGC_K
    return 1000.0 * GAS_CONSTANT_J_PER_MOL_K * kelvin / _STANDARD_ATMOSPHERE_PA


def water_vapour_kpa(temperature_degc: float) -> float:
    """Vapour pressure of water [kPa], 0 to 100 degC.

    References
    ----------
    A. L. Buck, New equations for computing vapor pressure and enhancement factor, J. Appl.
    Meteorol. 20 (1981) 1527, in the revision of 1996: within 0.1 % to 80 degC, 0.5 % at 100.
    """
    t = temperature_degc
    return 0.61121 * math.exp((18.678 - t / 234.5) * t / (257.14 + t))


def wet_gas_ratio(temperature_degc: float) -> float:
    """Volume of a gas as it leaves the bath, saturated with water, over dry at 25 degC.

    Parameters
    ----------
    temperature_degc : float
        Of the bath [degC], below 100.

    Notes
    -----
    (T / 298.15 K) p / (p - p_water): ideal gas, and the vapour of pure water, which is a little
    more than that of a bath; 1.13 at 40 degC.
    """
    atmosphere = _STANDARD_ATMOSPHERE_PA / 1000.0
    dry = atmosphere - water_vapour_kpa(temperature_degc)
    return molar_volume_l(temperature_degc) / molar_volume_l() * atmosphere / dry


def reagent_g_per_g_metal(pair: Pair) -> float:
    """Reagent used up by stoichiometry, in grams per gram of metal dissolved."""
    per_mol = pair.reagent_mol_per_mol.value * pair.etchant.molar_mass_g_per_mol.value
    return per_mol / metal_molar_mass(pair)


def ceiling_g_per_l(pair: Pair, strength_g_per_l: float) -> float:
    """Metal that a litre could dissolve if all its reagent were used up [g/L]."""
    per_g = reagent_g_per_g_metal(pair)
    # A current dissolves metal without using up a reagent.
    return strength_g_per_l / per_g if per_g > 0.0 else math.inf


def capacity_g_per_l(pair: Pair, strength_g_per_l: float) -> float:
    """Dissolved metal to plan a bath with [g/L].

    The table's value, which stands for baths of the usual strength, but never more than the share
    of the reagent that the table lets a bath lose; four fifths (our rule, for weak baths) where
    it names none.
    """
    share = _SHARE_OF_CEILING if pair.capacity_share is None else pair.capacity_share.value
    return min(pair.capacity_g_per_l.value, share * ceiling_g_per_l(pair, strength_g_per_l))


def capacity_end_g_per_l(pair: Pair, strength_g_per_l: float) -> float:
    """Dissolved metal at which a bath is finished [g/L]: never more than its reagent dissolves."""
    return min(pair.capacity_end_g_per_l.value, ceiling_g_per_l(pair, strength_g_per_l))


def bath_l(
    pair: Pair, *, metal_g: float, heat_kj: float, rise_k: float, strength_g_per_l: float
) -> float:
    """Least bath [L] that stays within the rise in temperature and within its capacity.

    max(heat / (heat capacity x rise), metal / capacity), no heat lost to tray or air.
    """
    by_heat = heat_kj / (pair.heat_capacity_kj_per_l_k.value * rise_k)
    return max(by_heat, metal_g / capacity_g_per_l(pair, strength_g_per_l))


def bath_cover_l(blank_size_mm: tuple[float, float]) -> float:
    """Bath [L] that covers one piece lying flat by 15 mm in a tray 20 mm larger all round.

    (width + 40) x (height + 40) x 15 mm; neither the piece's own volume nor its thickness nor a
    support under it is counted.
    """
    width, height = (side + 2.0 * _TRAY_MARGIN_MM for side in blank_size_mm)
    return tray_cover_l((width, height))


def tray_cover_l(tray_mm: tuple[float, float], depth_mm: float = COVER_MM) -> float:
    """Bath [L] that stands so deep in a vessel of this floor; 15 mm where pieces lie in it."""
    return tray_mm[0] * tray_mm[1] * depth_mm * 1e-6


def stock_l(strength: BathStrength, stock: BathStrength, bath_l: float) -> tuple[float, float]:
    """Stock solution and water [L] that make a bath; nothing is lost, masses add.

    Parameters
    ----------
    strength, stock : BathStrength
        Of the bath and of the stock solution, at 20 degC.
    bath_l : float
        The bath [L].

    Returns
    -------
    (float, float)
        Stock and water at 20 degC. Their volumes need not add up to the bath's.

    Raises
    ------
    PlanError
        If the stock is weaker than the bath.
    """
    if stock.g_per_l < strength.g_per_l * (1.0 - 1e-9):
        raise PlanError(
            f"a stock of {stock.as_given} is weaker than the bath of {strength.as_given}; name a "
            "stronger stock, or leave it out where the bath is mixed from dry reagent",
            at=("etch", "stock"),
        )
    volume = bath_l * strength.g_per_l / stock.g_per_l
    water_kg = bath_l * strength.water_g_per_ml - volume * stock.water_g_per_ml
    return volume, max(water_kg, 0.0) / water_density_g_per_ml(20.0)


def sludge_g(sludge: Sludge | None, *, metal_g: float, reagent_g: float) -> float | None:
    """Dry hydroxide that falls out when the spent bath is neutralised [g]; None if not known."""
    if sludge is None:
        return None
    of_reagent = 0.0 if sludge.per_g_reagent is None else sludge.per_g_reagent.value
    return sludge.per_g_metal.value * metal_g + of_reagent * reagent_g


def mean_depth_mm(
    *,
    loss_g: float,
    density_g_per_cm3: float,
    opening_area_mm2: float,
    opening_edge_mm: float,
    parts: int,
    holes: int,
    etch_factor: float,
) -> float:
    """Mean depth [mm] from the loss of weight of a piece, the side walls counted in.

    Parameters
    ----------
    loss_g, density_g_per_cm3 : float
        Loss of weight [g] and the metal's density.
    opening_area_mm2, opening_edge_mm, parts, holes : float, float, int, int
        Of the resist opening, as in `etch_volume_mm3`.
    etch_factor : float
        Depth / undercut per edge.

    Returns
    -------
    float
        The depth whose `etch_volume_mm3` has that weight.

    Raises
    ------
    PlanError
        If nothing was lost, or there is no opening through which it could be.
    """
    if not (math.isfinite(loss_g) and loss_g > 0.0 and opening_area_mm2 > 0.0):
        raise PlanError(
            f"a loss of {loss_g:g} g through {opening_area_mm2:g} mm2 tells no depth; both must "
            "be above zero"
        )
    volume = 1000.0 * loss_g / density_g_per_cm3

    def removed(depth_mm: float) -> float:
        return etch_volume_mm3(
            opening_area_mm2=opening_area_mm2,
            opening_edge_mm=opening_edge_mm,
            parts=parts,
            holes=holes,
            depth_mm=depth_mm,
            undercut_mm=undercut_mm(depth_mm, etch_factor),
        )

    # The walls only add metal, so the depth is at most that of straight walls. Where holes
    # outnumber parts the corner term could take some off again; twice as deep is then enough.
    low, high = 0.0, 2.0 * volume / opening_area_mm2
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if removed(middle) < volume else (low, middle)
    return 0.5 * (low + high)


def dilution_air_l_per_min(
    gas_l_per_min: float, lower_flammable_fraction: float, share: float = 0.25
) -> float:
    """Steady flow of air [L/min] that keeps a gas at a share of its lower flammable limit.

    For perfect mixing and steady flow; multiply by a safety factor of about ten for a real room.

    References
    ----------
    The share of 25 %: US Department of Energy, Hydrogen Tools, Best practices: ventilation.
    """
    return gas_l_per_min * (1.0 / (share * lower_flammable_fraction) - 1.0)


def metal_molar_mass(pair: Pair) -> float:
    """Molar mass of the pair's metal [g/mol]; for an alloy the mean over its atoms."""
    mass = pair.material.molar_mass_g_per_mol
    if mass is None:
        raise PlanError(f"{pair.material.name} is not a metal and is not etched")
    return mass.value
