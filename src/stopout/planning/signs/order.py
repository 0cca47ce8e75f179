"""The order in which a sign's coats go on: others that show the same front, and what they cost.

One by one, coat k is cleared wherever a later coat shows. The area cleared is then the sum over the
coats of their own area times the number of coats before them: a large ground that goes on last is
cleared out of every coat, one that goes on first out of none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

from shapely.geometry.base import BaseGeometry

from stopout.job.record import Coat
from stopout.planning.signs.grid import difference
from stopout.planning.signs.layers import clearings
from stopout.planning.signs.register import thinly_laid, worst_slip
from stopout.planning.signs.shows import effective, front_view
from stopout.values import Finding, Level

# More coats than this are not tried in all orders.
_MOST_COATS = 6
# Orders whose misses are looked at, the quickest first.
_TRIED = 3
# Another order must save so much to be spoken of, and to be a caution.
_WORTH, _MUCH, _MUCH_S = 0.10, 0.33, 300.0
# An order may show so much more of a wrong colour where clearings miss: no eye tells it apart.
_NO_WORSE_MM = 0.02
# Fronts that differ by less are the same.
_SAME_MM2 = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class CoatOrder:
    """An order that was tried: the coats' numbers as the job has them, from the viewer backwards.

    `time_s` is what clearing takes in it, calculated from the area cleared; `sliver_mm` the widest
    wrong colour when clearings miss each other, None where no error is given or none can miss.
    """

    coats: tuple[int, ...]
    time_s: float
    now_s: float
    sliver_mm: float | None
    now_sliver_mm: float | None


def cleared_mm2(areas: Sequence[float]) -> float:
    """Return the area cleared in all, one coat after the other.

    Parameters
    ----------
    areas : sequence of float
        Area in which each coat shows, from the viewer backwards.
    """
    return sum(k * area for k, area in enumerate(areas))


def best_order(
    coats: Sequence[Coat],
    shown: Sequence[BaseGeometry],
    *,
    face: BaseGeometry,
    is_last: Sequence[bool],
    now_s: float,
    now_sliver_mm: float | None,
    error_mm: float | None,
    edge_mm: float,
) -> CoatOrder | None:
    """Try the orders of the coats that show the same front.

    Parameters
    ----------
    coats : sequence of Coat
        As the job has them.
    shown : sequence of BaseGeometry
        What is to be seen of each.
    face : BaseGeometry
        The blank's face.
    is_last : sequence of bool
        True for coats that must stay behind all others: windows and diffusers.
    now_s, now_sliver_mm : float
        What the job's own order takes and shows.
    error_mm, edge_mm : float
        How far clearings may miss each other, and an edge may err.

    Returns
    -------
    CoatOrder or None
        The quickest that shows no more of a wrong colour; None where none saves a tenth.
    """
    front = [k for k in range(len(coats)) if not is_last[k]]
    behind = tuple(k for k in range(len(coats)) if is_last[k])
    areas = [region.area for region in shown]
    now = cleared_mm2(areas)
    if not 2 <= len(front) <= _MOST_COATS or now <= 0 or now_s <= 0:
        return None
    orders = sorted(
        ((*order, *behind) for order in permutations(front)),
        key=lambda order: cleared_mm2([areas[k] for k in order]),
    )
    for order in orders[:_TRIED]:
        share = cleared_mm2([areas[k] for k in order]) / now
        if share > 1 - _WORTH:
            return None
        sliver = _sliver_mm([shown[k] for k in order], face, error_mm, edge_mm)
        if sliver is None:
            continue
        is_worse = now_sliver_mm is not None and sliver > now_sliver_mm + _NO_WORSE_MM
        if not is_worse:
            return CoatOrder(
                coats=tuple(k + 1 for k in order),
                time_s=share * now_s,
                now_s=now_s,
                sliver_mm=sliver if error_mm else None,
                now_sliver_mm=now_sliver_mm,
            )
    return None


def _sliver_mm(
    shown: Sequence[BaseGeometry], face: BaseGeometry, error_mm: float | None, edge_mm: float
) -> float | None:
    """Return the widest wrong colour of an order; None where its front is not the same."""
    cleared = clearings(shown, method="one-by-one", error_mm=error_mm or 0.0, edge_mm=edge_mm)
    views = front_view(face, effective(cleared, "one-by-one"))
    if any(difference(a, b).area > _SAME_MM2 for a, b in zip(shown, views, strict=True)):
        return None
    if not error_mm or sum(region is not None for region in cleared) < 2:
        return 0.0
    slip = worst_slip(
        shown,
        thinly_laid(cleared),
        face=face,
        method="one-by-one",
        error_mm=error_mm,
        allowed_mm=edge_mm,
    )
    return slip.width_mm


def order_findings(coats: Sequence[Coat], order: CoatOrder | None) -> list[Finding]:
    """Advise an order that takes less time for the same front."""
    if order is None:
        return []
    names = ", ".join(coats[number - 1].colour for number in order.coats)
    saved = order.now_s - order.time_s
    is_much = saved > _MUCH_S and saved > _MUCH * order.now_s
    miss = ""
    if order.sliver_mm is not None and order.now_sliver_mm is not None:
        then, now = (f"{width:.2f} mm" for width in (order.sliver_mm, order.now_sliver_mm))
        miss = f", and a miss shows {then} of a wrong colour instead of {now}" * (then != now)
    return [
        Finding(
            code="coat-order",
            level=Level.CAUTION if is_much else Level.NOTE,
            message=(
                f"with the coats in the order {names} the same front takes about "
                f"{_minutes(order.time_s)} of clearing instead of {_minutes(order.now_s)}{miss}"
            ),
            remedy="Put the [[coat]] tables in that order; the colour nearest to the reader comes "
            "first.",
        )
    ]


def _minutes(time_s: float) -> str:
    return f"{time_s / 60:.0f} min" if time_s >= 60 else f"{time_s:.0f} s"
