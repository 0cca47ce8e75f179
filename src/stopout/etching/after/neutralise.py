"""Making a spent bath neutral: how much of what, diluted how far, in what vessel and portions.

Each way is planned so that the whole of it, added at once by mistake and with no heat lost, warms
the diluted bath by no more than 15 K, and so that neither gas nor gel leaves the vessel. A way that
would need more than one person can stir, or give off more gas than a room takes, is declined.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.etching.bath.amounts import Sludge, metal_molar_mass, molar_volume_l, sludge_g
from stopout.etching.records import Neutraliser, Pair

# All of these are our own rules; none is published.
_MOST_RISE_K = 15.0
_PORTION_RISE_K = 5.0
_WAIT_MIN = 5.0
_GEL_PER_DRY = 10.0
_LIQUID_PER_GEL = 1.5
_VESSEL_PER_LIQUID = 1.5
_VESSEL_PER_FOAM = 2.0
_MOST_VESSEL_L = 30.0
_MOST_PORTIONS = 40
_USUAL_PORTIONS = 20
# Half a per cent of 20 m3: the eight-hour limit of carbon dioxide in a small room without air.
_MOST_GAS_L = 100.0
_WATER_KJ_PER_L_K = 4.18


@dataclass(frozen=True, slots=True, kw_only=True)
class Neutralising:
    """One way to make the poured bath neutral.

    Attributes
    ----------
    ident, name, end_ph : str
        What is added, and the pH at the end.
    amount_g : float
        Of the neutraliser itself.
    stock_g, stock_ml, stock_percent : float or None
        The same as the solution that is sold, by mass and volume; None where it is sold dry.
    water_l, liquid_l, vessel_l : float
        Water that the bath is poured into first, all that is in the vessel at the end, and the
        least volume of the vessel with room for foam and gel.
    heat_kj, rise_k : float
        Heat given off (below nought: taken up), and the rise of it all at once, none lost.
    gas_l : float
        Carbon dioxide at 25 degC and 101.325 kPa.
    portions, portion_g, portion_rise_k, portion_gas_l, wait_min : int, float ...
        Portions (of the solution where it is sold as one), and the least wait after each.
    gel_l : float
        Sludge as a gel, at most.
    """

    ident: str
    name: str
    amount_g: float
    end_ph: str
    stock_g: float | None
    stock_ml: float | None
    stock_percent: float | None
    water_l: float
    liquid_l: float
    vessel_l: float
    heat_kj: float
    rise_k: float
    gas_l: float
    portions: int
    portion_g: float
    portion_rise_k: float
    portion_gas_l: float
    wait_min: float
    gel_l: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Declined:
    """A way that this bath is too large for, and why."""

    ident: str
    name: str
    reason: str


def neutraliser_g(neutraliser: Neutraliser, reagent_g: float) -> float:
    """Neutraliser [g] for the reagent that was charged [g], however much metal it has taken up."""
    return neutraliser.g_per_g.value * reagent_g


def neutralising_ways(
    pair: Pair, *, bath_l: float, reagent_g: float, metal_g: float, sludge: Sludge | None
) -> tuple[tuple[Neutralising, ...], tuple[Declined, ...]]:
    """The ways to make a spent bath neutral that a shop can take, and those that it cannot.

    Parameters
    ----------
    pair : Pair
        The metal in its bath; none of its ways where the bath is left to the carrier.
    bath_l, reagent_g, metal_g : float
        The bath, the reagent that was charged, and the metal dissolved in it.
    sludge : Sludge or None
        What falls out; None where it is not known.
    """
    taken: list[Neutralising] = []
    declined: list[Declined] = []
    for way in pair.neutralisers:
        planned = _planned(way, pair, bath_l, reagent_g, metal_g, sludge)
        reason = _too_much(planned)
        if reason:
            declined.append(Declined(ident=way.ident, name=way.name, reason=reason))
        else:
            taken.append(planned)
    return tuple(taken), tuple(declined)


def _planned(
    way: Neutraliser,
    pair: Pair,
    bath_l: float,
    reagent_g: float,
    metal_g: float,
    sludge: Sludge | None,
) -> Neutralising:
    amount = neutraliser_g(way, reagent_g)
    stock_g, stock_ml = _as_sold(way, amount)
    reagent_mol = reagent_g / pair.etchant.molar_mass_g_per_mol.value
    heat = reagent_mol * way.heat_kj_per_mol.value
    if way.metal_heat_kj_per_mol is not None:
        heat += metal_g / metal_molar_mass(pair) * way.metal_heat_kj_per_mol.value
    gas_l = reagent_mol * way.gas_mol_per_mol.value * molar_volume_l()
    dry_g = sludge_g(sludge, metal_g=metal_g, reagent_g=reagent_g) or 0.0
    gel_l = 1e-3 * _GEL_PER_DRY * dry_g
    # A dry powder adds less than a millilitre a gram.
    added_l = 1e-3 * (amount if stock_ml is None else stock_ml)
    per_k = pair.heat_capacity_kj_per_l_k.value * bath_l
    for_heat = (heat / _MOST_RISE_K - per_k) / _WATER_KJ_PER_L_K
    for_gel = _LIQUID_PER_GEL * gel_l - bath_l - added_l
    # The room above the liquid is as large as the liquid, and takes a portion's gas.
    for_gas = gas_l / _USUAL_PORTIONS - bath_l - added_l
    water = max(for_heat, for_gel, for_gas, 0.0)
    liquid = bath_l + water + added_l
    vessel = liquid * (_VESSEL_PER_FOAM if gas_l > 0.0 else _VESSEL_PER_LIQUID)
    rise = heat / (per_k + _WATER_KJ_PER_L_K * water)
    portions = max(1, math.ceil(rise / _PORTION_RISE_K), math.ceil(gas_l / (vessel - liquid)))
    return Neutralising(
        ident=way.ident,
        name=way.name,
        amount_g=amount,
        end_ph=way.end_ph,
        stock_g=stock_g,
        stock_ml=stock_ml,
        stock_percent=None if way.stock_fraction is None else 100.0 * way.stock_fraction.value,
        water_l=water,
        liquid_l=liquid,
        vessel_l=vessel,
        heat_kj=heat,
        rise_k=rise,
        gas_l=gas_l,
        portions=portions,
        portion_g=(amount if stock_g is None else stock_g) / portions,
        portion_rise_k=rise / portions,
        portion_gas_l=gas_l / portions,
        wait_min=_WAIT_MIN,
        gel_l=gel_l,
    )


def _as_sold(way: Neutraliser, amount_g: float) -> tuple[float | None, float | None]:
    """Mass and volume of the solution as sold; None where it is sold dry."""
    if way.stock_fraction is None or way.stock_g_per_ml is None:
        return None, None
    stock_g = amount_g / way.stock_fraction.value
    return stock_g, stock_g / way.stock_g_per_ml.value


def _too_much(way: Neutralising) -> str:
    """Why a shop does not do it this way; empty where it can."""
    if way.vessel_l > _MOST_VESSEL_L:
        return (
            f"it takes a vessel of {way.vessel_l:.0f} L, more than the {_MOST_VESSEL_L:.0f} L that "
            "one person stirs (our own rule)"
        )
    if way.gas_l > _MOST_GAS_L:
        return (
            f"it gives off {way.gas_l:.0f} L of carbon dioxide, more than the {_MOST_GAS_L:.0f} L "
            "that a room of 20 m3 takes (our own rule)"
        )
    if way.portions > _MOST_PORTIONS:
        return f"it takes {way.portions} portions, more than {_MOST_PORTIONS} (our own rule)"
    return ""
