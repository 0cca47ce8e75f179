"""Still rinses in counter-flow: what a lifted piece drags out, and how much water takes it up.

A piece goes through the first rinse, then the second; fresh water comes in at the last one only,
and the first goes to waste (or, of a bath that is used again, back into it). What clings to the
piece when it leaves the last still rinse is all that running water ever sees.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.errors import PlanError

# Film on a flat piece that is held upright and drained for some seconds. From memory: tables of
# drag-out give 0.4 gallons per 1000 square feet for a well drained vertical part, 2 for a poorly
# and 4 for a very poorly drained one: 16, 81 and 163 mL/m2.
DRAG_OUT_L_PER_M2 = 0.1
# Dilution of a thousand, a rule of thumb of the rinsing literature (Surface Finishing Guidebook
# 2011-2012, rinsing): "a very general rule of thumb".
_LAST_SHARE = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Rinses:
    """The still rinses of a job.

    Attributes
    ----------
    count : int
        How many stand in a row; three where the bath holds chromium or nickel.
    volume_l : float
        Each of them, at least.
    lifts : int
        Times that a piece leaves the bath, over all pieces.
    drag_out_l, carried_g : float
        Bath dragged out in all, and the reagent in it.
    last_share : float
        Strength of the last rinse over that of the bath, after the last piece.
    all_kept : bool
        True where no water that has touched the piece goes to a drain.
    """

    count: int
    volume_l: float
    lifts: int
    drag_out_l: float
    carried_g: float
    last_share: float
    all_kept: bool

    @property
    def waste_l(self) -> float:
        """All still rinses together."""
        return self.count * self.volume_l


def plan_rinses(
    *,
    face_mm2: float,
    pieces: int,
    lifts_each: int,
    strength_g_per_l: float,
    least_l: float,
    all_kept: bool,
) -> Rinses:
    """Plan the still rinses: two, or three whose water is all kept.

    Parameters
    ----------
    face_mm2 : float
        One face of a piece; the film clings to both.
    pieces, lifts_each : int
        How many pieces, and how often each leaves the bath.
    strength_g_per_l : float
        Of the bath.
    least_l : float
        What covers a piece in its tray.
    all_kept : bool
        True where the bath holds what must not reach a drain.
    """
    film_l = 2e-6 * face_mm2 * DRAG_OUT_L_PER_M2
    lifts = max(1, pieces * lifts_each)
    count = 3 if all_kept else 2
    volume = max(least_l, still_rinse_l(film_l, lifts, count=count, last_share=_LAST_SHARE))
    return Rinses(
        count=count,
        volume_l=volume,
        lifts=lifts,
        drag_out_l=film_l * lifts,
        carried_g=film_l * lifts * strength_g_per_l,
        last_share=rinse_share(film_l, volume, lifts, number=count),
        all_kept=all_kept,
    )


def rinse_share(film_l: float, volume_l: float, lifts: int, *, number: int) -> float:
    """Strength of a still rinse in a row over that of the bath, after so many lifts.

    Parameters
    ----------
    film_l, volume_l : float
        What each lift carries over, and each rinse's volume.
    lifts, number : int
        Lifts so far, and the rinse's place in the row, from 1.

    Notes
    -----
    Each lift brings a film of the bath before and takes one of its own, well mixed: c' = (c V +
    c_before d) / (V + d). With p = d / (V + d) and q = 1 - p the m-th rinse stands after k lifts at
    1 - q^k (1 + k p + ... + C(k + m - 2, m - 1) p^(m - 1)), a negative binomial sum.
    """
    if not (film_l >= 0.0 and volume_l > 0.0):
        raise PlanError("a rinse needs a volume above zero")
    p = film_l / (volume_l + film_l)
    # The tail itself: one less the sum would lose all digits where little is carried over.
    term = math.comb(lifts + number - 1, number) * p**number * (1.0 - p) ** lifts
    total, place = 0.0, number
    while term > 1e-17 * max(total, 1e-300) and place < number + 100_000:
        total += term
        term *= (lifts + place) / (place + 1) * p
        place += 1
    return total


def still_rinse_l(film_l: float, lifts: int, *, count: int, last_share: float) -> float:
    """Least volume of each still rinse [L] that keeps the last one below a share of the bath.

    Parameters
    ----------
    film_l : float
        What each lift carries over [L].
    lifts, count : int
        Lifts in all, and still rinses in a row.
    last_share : float
        Strength of the last rinse over that of the bath, at most.
    """
    if film_l <= 0.0:
        return 0.0
    low, high = 0.0, film_l
    while rinse_share(film_l, high, lifts, number=count) > last_share:
        high *= 2.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if middle > 0.0 and rinse_share(film_l, middle, lifts, number=count) <= last_share:
            high = middle
        else:
            low = middle
    return high
