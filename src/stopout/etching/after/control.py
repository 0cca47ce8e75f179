"""A bath that is kept: what a titration says, what is added, and what regenerates it."""

from __future__ import annotations

from dataclasses import dataclass

from stopout.errors import PlanError
from stopout.etching.amounts import molar_volume_l

__all__ = [
    "AirRegeneration",
    "CausticBath",
    "acid_to_add_ml",
    "air_regeneration",
    "caustic_bath",
    "titrated_mol_per_l",
    "water_to_add_l",
]

_ALUMINIUM_G_PER_MOL = 26.9815
_CAUSTIC_G_PER_MOL = 39.997
_COPPER_G_PER_MOL = 63.546
_ACID_G_PER_MOL = 36.461
_OXYGEN_IN_AIR = 0.2095
# 31 %, as commonly sold, at 20 degC.
_ACID_FRACTION, _ACID_G_PER_ML = 0.31, 1.154


@dataclass(frozen=True, slots=True, kw_only=True)
class CausticBath:
    """What the titration of a caustic bath says, in g/L."""

    free_caustic_g_per_l: float
    charged_caustic_g_per_l: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AirRegeneration:
    """What copper dissolved in cupric chloride asks for before the bath is as it was.

    `air_l` is the least, all its oxygen taken up: of air that bubbles through a tank most leaves
    again. `acid_g` is pure, `acid_ml` as acid of 31 %.
    """

    oxygen_l: float
    air_l: float
    acid_g: float
    acid_ml: float
    heat_kj: float


def titrated_mol_per_l(*, sample_ml: float, titrant_ml: float, titrant_mol_per_l: float) -> float:
    """Strength of what is titrated one to one [mol/L].

    Parameters
    ----------
    sample_ml : float
        Bath taken.
    titrant_ml, titrant_mol_per_l : float
        What it took, and how strong that is.

    Raises
    ------
    PlanError
        If a volume or strength is not above zero.
    """
    if not (sample_ml > 0.0 and titrant_ml >= 0.0 and titrant_mol_per_l > 0.0):
        raise PlanError("a titration needs a sample and a titrant above zero")
    return titrant_ml * titrant_mol_per_l / sample_ml


def caustic_bath(
    *, sample_ml: float, acid_ml: float, acid_mol_per_l: float, aluminium_g_per_l: float
) -> CausticBath:
    """Free caustic of an aluminium etch, from one titration and the metal that the pieces lost.

    Parameters
    ----------
    sample_ml : float
        Bath taken.
    acid_ml, acid_mol_per_l : float
        Acid until phenolphthalein loses its pink, and its strength in protons.
    aluminium_g_per_l : float
        Dissolved aluminium, from the weighed pieces.

    Notes
    -----
    The acid takes OH- and the one proton that turns Al(OH)4- into Al(OH)3: all the caustic that
    was charged; each aluminium holds one of it. Laboratories go on with fluoride to find the
    aluminium: past the end that makes hydrofluoric acid, so no shop does it here.
    """
    charged = titrated_mol_per_l(
        sample_ml=sample_ml, titrant_ml=acid_ml, titrant_mol_per_l=acid_mol_per_l
    )
    free = max(charged - aluminium_g_per_l / _ALUMINIUM_G_PER_MOL, 0.0)
    return CausticBath(
        free_caustic_g_per_l=free * _CAUSTIC_G_PER_MOL,
        charged_caustic_g_per_l=charged * _CAUSTIC_G_PER_MOL,
    )


def acid_to_add_ml(
    *, bath_ml: float, found_mol_per_l: float, wanted_mol_per_l: float, acid_mol_per_l: float
) -> float:
    """Acid that brings a bath's free acid up [mL]; nought where it has enough.

    Parameters
    ----------
    bath_ml : float
        The bath.
    found_mol_per_l, wanted_mol_per_l, acid_mol_per_l : float
        Free acid in it, wanted in it, and in the acid that is added.

    Notes
    -----
    V (wanted - found) / (acid - wanted), volumes adding.

    References
    ----------
    A home guide to air-regenerated cupric chloride (2005), bath control; its worked example: 750 mL
    from 0.5 to 2.75 mol/L with acid of 11.1 mol/L take 202 mL.
    """
    if not acid_mol_per_l > wanted_mol_per_l:
        raise PlanError("the acid that is added must be stronger than what is wanted in the bath")
    short = max(wanted_mol_per_l - found_mol_per_l, 0.0)
    return bath_ml * short / (acid_mol_per_l - wanted_mol_per_l)


def water_to_add_l(*, bath_l: float, gravity: float, wanted_gravity: float) -> float:
    """Water that brings a bath's gravity down [L], volumes adding; nought where it is low enough.

    Parameters
    ----------
    bath_l : float
        The bath.
    gravity, wanted_gravity : float
        As the hydrometer shows it, and as it is wanted; above 1.
    """
    if not wanted_gravity > 1.0:
        raise PlanError(f"a gravity of {wanted_gravity:g} is that of water; use 1.3 for instance")
    return bath_l * max(gravity - wanted_gravity, 0.0) / (wanted_gravity - 1.0)


def air_regeneration(copper_g: float) -> AirRegeneration:
    """Air and acid that regenerate cupric chloride after it has dissolved so much copper.

    Parameters
    ----------
    copper_g : float
        Copper since the bath was last clear green [g].

    Notes
    -----
    Cu + CuCl2 -> 2 CuCl; 2 CuCl + 2 HCl + 0.5 O2 -> 2 CuCl2 + H2O: half a mole of oxygen and two of
    acid for each mole of copper; 216.2 kJ from the formation enthalpies of the CRC tables.
    """
    moles = copper_g / _COPPER_G_PER_MOL
    oxygen = 0.5 * moles * molar_volume_l()
    acid_g = 2.0 * moles * _ACID_G_PER_MOL
    return AirRegeneration(
        oxygen_l=oxygen,
        air_l=oxygen / _OXYGEN_IN_AIR,
        acid_g=acid_g,
        acid_ml=acid_g / _ACID_FRACTION / _ACID_G_PER_ML,
        heat_kj=216.2 * moles,
    )
