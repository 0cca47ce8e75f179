"""How a bath slows down as it is used up: over one etch, and from one batch to the next."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.errors import PlanError
from stopout.etching.bath import amounts
from stopout.etching.records import Pair, Sourced

# Of a share of the reagent nearer to all of it than this, no time can be told.
_ALL = 0.999


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Pieces that lie in the bath together, and what the bath is like for them.

    `start_g_per_l` and `end_g_per_l` are the dissolved metal before and after; `time_s` is the
    etch time with the ageing counted in, None where the reagent would run out.
    """

    number: int
    pieces: int
    start_g_per_l: float
    end_g_per_l: float
    time_s: float | None


def share_used(pair: Pair, *, metal_g_per_l: float, strength_g_per_l: float) -> float:
    """Share of the reagent that a load of metal uses up, by stoichiometry (1: all of it)."""
    per_g = amounts.reagent_g_per_g_metal(pair)
    return metal_g_per_l * per_g / strength_g_per_l


def ageing_factor(share: float) -> float:
    """By how much an etch takes longer because the bath ages during it: -ln(1 - x)/x.

    Parameters
    ----------
    share : float
        x, the share of the reagent present at the start that the etch uses up, 0 to below 1.

    Returns
    -------
    float
        1 for an endless bath; infinite where the reagent runs out.

    Notes
    -----
    A rate in proportion to what is left of the reagent (first order), pieces of constant area:
    the mean of 1/(1 - y) over y from 0 to x. A bath whose rate depends less on its strength
    slows less, so this is the long end for it.
    """
    if not share >= 0.0:
        raise PlanError(f"a bath cannot be used up by {100 * share:g} %; give 0 % or more")
    if share >= _ALL:
        return math.inf
    return 1.0 if share < 1e-9 else -math.log1p(-share) / share


def strength_order(pair: Pair, agitation: str) -> Sourced | None:
    """The exponent with which the rate follows the strength; None where none is known."""
    for reference in pair.rates:
        if agitation in reference.agitation:
            return reference.strength_order
    tray = (reference for reference in pair.rates if "tray" in reference.agitation)
    return next((reference.strength_order for reference in tray), None)


def used_bath_factor(share: float, order: float) -> float:
    """What is left of a fresh bath's rate once a share of its reagent is gone: (1 - x)^n."""
    return math.pow(max(1.0 - share, 0.0), order)


def batches(
    *,
    pieces: int,
    at_once: int,
    metal_per_piece_g: float,
    bath_l: float,
    start_g_per_l: float,
    ceiling_g_per_l: float,
    time_s: float,
) -> tuple[Batch, ...]:
    """Part the pieces into batches, the bath ageing from one to the next.

    Parameters
    ----------
    pieces, at_once : int
        How many in all, and how many lie in the tray together.
    metal_per_piece_g, bath_l : float
        Loss of weight of a piece [g] and volume of the bath [L].
    start_g_per_l : float
        Dissolved metal before the first batch [g/L].
    ceiling_g_per_l : float
        Metal that would use up all the reagent [g/L]; infinite where none is used up.
    time_s : float
        Etch time in the bath as it is before the first batch, without ageing [s].

    Returns
    -------
    tuple of Batch
        Their times, weighted by pieces, have the mean time_s -ln(1 - x)/x, x being the share of
        the reagent at the start that all of them use up together.
    """
    found: list[Batch] = []
    metal = start_g_per_l
    left_at_first = ceiling_g_per_l - start_g_per_l
    done = 0
    while done < pieces:
        count = min(at_once, pieces - done)
        end = metal + count * metal_per_piece_g / bath_l
        found.append(
            Batch(
                number=len(found) + 1,
                pieces=count,
                start_g_per_l=metal,
                end_g_per_l=end,
                time_s=_time_s(time_s, left_at_first, ceiling_g_per_l - metal, end - metal),
            )
        )
        done, metal = done + count, end
    return tuple(found)


def _time_s(time_s: float, left_at_first: float, left: float, load: float) -> float | None:
    if math.isinf(left_at_first):
        return time_s
    if left <= 0.0:
        return None
    # The rate in proportion to what is left: slower at the batch's start, slower still during it.
    aged = time_s * (left_at_first / left) * ageing_factor(load / left)
    return aged if math.isfinite(aged) else None
