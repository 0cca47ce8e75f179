"""The mark's two axes from one threshold of fluence, and a given pair held against the spot.

A beam clears paint where its dose per area passes one threshold F, whichever way it runs. In the
middle of a line along x the dose is sqrt(2/pi) q / w_y, in the middle of one along y sqrt(2/pi) q /
w_x (q the line dose, w the 1/e^2 radii of a Gaussian spot, see `stopout.clearing.beam.dose`); so
the threshold line doses are sqrt(pi/2) w_y F and sqrt(pi/2) w_x F, and the dose ratios r of one
power and speed stand as 1/w: r_x w_x = r_y w_y, the index being the axis across which the line is
measured. With D = w sqrt(2 ln r) (J. M. Liu, Opt. Lett. 7 (1982) 196, from memory, in its scanned
form) one number, q / F, fixes both axes of the mark.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.clearing.beam.spot import dose_ratio_of, mark_width_mm
from stopout.values import Measured

Pair = tuple[float, float]

# A pair this far from what the spot makes is told (ours: about what two readings of a line under
# a microscope differ by); where its standard deviation is given, twice that counts if it is more.
_TOLD_SHARE = 0.05
_SIGMAS = 2.0
# Past a factor of two the mark is not of this spot at all.
_STOP_FACTOR = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkCheck:
    """A given mark beside the one that the spot makes.

    Attributes
    ----------
    expected_mm : (float, float)
        Along x and y, what the spot clears for the same mean of the two.
    is_told : bool
        Whether an axis is farther off than measuring explains.
    is_stop : bool
        Whether an axis is off by a factor of two or more.
    is_swapped : bool
        Whether the pair would fit with x and y exchanged.
    """

    expected_mm: Pair
    is_told: bool
    is_stop: bool
    is_swapped: bool


def dose_ratios_of_spot(radius_mm: Pair, dose_ratio: float) -> Pair:
    """Return line dose / threshold line dose across x and across y.

    Parameters
    ----------
    radius_mm : (float, float)
        1/e^2 radii along x and y, or the sides of a uniform spot.
    dose_ratio : float
        That of the axis with the larger radius; the other's is higher.
    """
    widest = max(radius_mm)
    return dose_ratio * widest / radius_mm[0], dose_ratio * widest / radius_mm[1]


def mark_of_spot(radius_mm: Pair, dose_ratio: float) -> Pair:
    """Return the mark along x and y in mm at a dose ratio of the axis with the larger radius."""
    ratios = dose_ratios_of_spot(radius_mm, dose_ratio)
    return mark_width_mm(radius_mm[0], ratios[0]), mark_width_mm(radius_mm[1], ratios[1])


def mark_beside(radius_mm: Pair, *, axis: int, mark_mm: float) -> float:
    """Return the mark along the other axis in mm, from the one measured along `axis` (0 x, 1 y).

    0 where the same line dose is at or under the threshold there.
    """
    ratio = dose_ratio_of(mark_mm, radius_mm[axis]) * radius_mm[axis] / radius_mm[1 - axis]
    return mark_width_mm(radius_mm[1 - axis], ratio)


def mark_of_mean(radius_mm: Pair, mean_mm: float) -> Pair:
    """Return the mark that this spot makes whose two axes have this mean, in mm.

    Of axes A and B at radii a < b, (A/a)^2 - (B/b)^2 = 2 ln(b/a): a quadratic, their sum being
    known. A sum so small that only the narrower axis is above the threshold leaves B at 0.
    """
    narrow, wide = sorted(radius_mm)
    both = 2 * mean_mm
    half = narrow**2 * both
    rest = narrow**2 * (both**2 + 2 * wide**2 * math.log(wide / narrow))
    axis = min(both, rest / (half + math.sqrt(half**2 + (wide**2 - narrow**2) * rest)))
    mark = (axis, both - axis)
    return mark if radius_mm[0] == narrow else mark[::-1]


def hold_against_spot(mark_mm: tuple[Measured, Measured], radius_mm: Pair) -> MarkCheck:
    """Hold a given mark against the one that the spot makes for the same mean.

    Parameters
    ----------
    mark_mm : (Measured, Measured)
        Full axes along x and y.
    radius_mm : (float, float)
        1/e^2 radii of the spot along x and y.
    """
    # No spot makes a mark wider than six radii: the dose ratio would be above 65 million.
    mean = (mark_mm[0].value + mark_mm[1].value) / 2
    if mean > 6 * max(radius_mm):
        return MarkCheck(
            expected_mm=(6 * radius_mm[0], 6 * radius_mm[1]),
            is_told=True,
            is_stop=True,
            is_swapped=False,
        )
    expected = mark_of_mean(radius_mm, mean)
    turned = (mark_mm[1], mark_mm[0])
    is_told = _is_off(mark_mm, expected)
    return MarkCheck(
        expected_mm=expected,
        is_told=is_told,
        is_stop=any(
            not expects / _STOP_FACTOR < axis.value < _STOP_FACTOR * expects
            for axis, expects in zip(mark_mm, expected, strict=True)
        ),
        is_swapped=is_told and not _is_off(turned, expected),
    )


def _is_off(mark_mm: tuple[Measured, Measured], expected_mm: Pair) -> bool:
    return any(
        abs(axis.value - expects) > max(_TOLD_SHARE * expects, _SIGMAS * axis.sd)
        for axis, expects in zip(mark_mm, expected_mm, strict=True)
    )
