"""Gas that an etch gives off: its mean flow, its peak, and the air that keeps it harmless."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.etching.bath import amounts
from stopout.etching.rates.rate import arrhenius_ratio
from stopout.etching.records import Pair

# For imperfect mixing and peaks, on top of the air that would do if all were mixed and steady:
# common practice, no source.
AIR_SAFETY_FACTOR = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GasFlow:
    """Flow of gas from the pieces that lie in the bath together.

    `air_l_per_min` and `air_peak_l_per_min` keep the mean and the peak flow at a quarter of the
    lower flammable limit if perfectly mixed; `ventilation_l_per_min` is ten times the former, but
    never less than three times the latter. None where the gas does not burn.
    """

    mean_ml_per_min: float
    peak_ml_per_min: float
    air_l_per_min: float | None = None
    air_peak_l_per_min: float | None = None
    ventilation_l_per_min: float | None = None
    safety_factor: float = AIR_SAFETY_FACTOR


# By how much a rate grows with 10 K where no activation energy is known: common practice, no
# source.
_TEN_KELVIN_RATIO = 2.0
# How much of the safety factor has to be left at the peak, for imperfect mixing. Our own rule.
_LEFT_AT_PEAK = 3.0


def gas_flow(pair: Pair, *, gas_l: float, time_s: float, peak_ratio: float) -> GasFlow:
    """Mean and peak flow and the air for them.

    Parameters
    ----------
    pair : Pair
        For the gas's lower flammable limit.
    gas_l, time_s : float
        Gas from the pieces in the bath together [L] and their etch time [s].
    peak_ratio : float
        Peak flow over mean flow.
    """
    mean = gas_l / (time_s / 60.0)
    limit = pair.gas_lower_flammable_fraction
    if limit is None or gas_l <= 0.0:
        return GasFlow(mean_ml_per_min=1000.0 * mean, peak_ml_per_min=1000.0 * mean * peak_ratio)
    air = amounts.dilution_air_l_per_min(mean, limit.value)
    at_peak = peak_ratio * air
    blown = max(AIR_SAFETY_FACTOR * air, _LEFT_AT_PEAK * at_peak)
    return GasFlow(
        mean_ml_per_min=1000.0 * mean,
        peak_ml_per_min=1000.0 * mean * peak_ratio,
        air_l_per_min=air,
        air_peak_l_per_min=at_peak,
        ventilation_l_per_min=blown,
        safety_factor=blown / air,
    )


def wall_peak_ratio(
    *, opening_area_mm2: float, opening_edge_mm: float, parts: int, holes: int, undercut_mm: float
) -> float:
    """Metal dissolving at the end of the etch over its mean, as the side walls open up.

    Notes
    -----
    The volume is A z + (pi/4) (z/F) z L + (2/3) pi (z/F)^2 z (parts - holes) at the depth z; its
    slope at the full depth over its mean slope: (A + (pi/2) u L + 2 pi u^2 n) / (A + (pi/4) u L +
    (2/3) pi u^2 n).
    """
    u, n = undercut_mm, parts - holes
    mean = opening_area_mm2 + math.pi / 4 * u * opening_edge_mm + 2 / 3 * math.pi * u**2 * n
    end = opening_area_mm2 + math.pi / 2 * u * opening_edge_mm + 2 * math.pi * u**2 * n
    return max(1.0, end / mean) if mean > 0.0 else 1.0


def warming_ratio(pair: Pair, *, temperature_degc: float, rise_k: float, agitation: str) -> float:
    """By how much the rate grows when the bath has warmed by its rise.

    By the activation energy of the pair's rate, where the tables have one; else twofold for each
    10 K, van 't Hoff's rule of thumb. 1 under a current, which sets the rate whatever the warmth.
    """
    if not pair.rates:
        return 1.0
    for reference in pair.rates:
        if agitation not in reference.agitation and "tray" not in reference.agitation:
            continue
        energy = reference.activation_kj_per_mol
        if energy is not None:
            return arrhenius_ratio(energy.value, temperature_degc, temperature_degc + rise_k)
    return float(_TEN_KELVIN_RATIO ** (rise_k / 10.0))
