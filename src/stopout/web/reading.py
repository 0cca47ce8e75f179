"""Drawn and predicted width at a place of a plan: the planner's own local widths, near it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from stopout.mask import local_widths
from stopout.web.views import shown_coat

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.planning import Plan
    from stopout.values import FloatArray

# A first window's half side, and how finely its edges are walked: a share of it. Widths are then
# true to a thousandth of the window at most, which is no wider than four widths.
_WINDOW_MM, _SHARE = 0.6, 1 / 60


def read_at(plan: Plan, x_mm: float, y_mm: float) -> dict[str, Any]:
    """Return what is drawn and what is predicted at a place.

    Parameters
    ----------
    plan : Plan
        A draft or a full plan.
    x_mm, y_mm : float
        The place, as worked.

    Returns
    -------
    dict
        `on` (whether the place is on the blank); `drawn` and `made`, what is there in one word;
        `drawn_mm` and `made_mm`, the width there: that of the largest disc within the
        region that holds the place; `low_mm` and `high_mm`,
        two standard deviations of mark and undercut off. `made_mm` is None where the prediction is
        not of the drawn kind.
    """
    coat, place = shown_coat(plan), (x_mm, y_mm)
    if not shapely.contains_xy(plan.face, *place):
        return {"on": False}
    is_open, is_made = (
        bool(shapely.contains_xy(region, *place)) for region in (coat.target, coat.finished)
    )
    words = ("cleared", "paint") if plan.etch is None else ("etched", "land")
    told: dict[str, Any] = {
        "on": True,
        "drawn": words[not is_open],
        "made": words[not is_made],
        "drawn_mm": width_at(coat.target, plan.face, place),
        "made_mm": None,
    }
    made_mm = width_at(coat.finished, plan.face, place) if is_open == is_made else None
    if made_mm is not None:
        spread = 2 * (coat.stroke if is_open else coat.land).sd_mm
        told |= {
            "made_mm": made_mm,
            "low_mm": max(0.0, made_mm - spread),
            "high_mm": made_mm + spread,
        }
    return told


def width_at(region: BaseGeometry, face: BaseGeometry, place: tuple[float, float]) -> float | None:
    """Return the width at a place, of the region or of what it leaves of the face.

    A window round the place is enough once it is wider than the width found in it: any disc that
    holds the place shrinks towards it into the window. It grows until then.

    Parameters
    ----------
    region, face : BaseGeometry
        In mm.
    place : (float, float)
        On the face.
    """
    x, y = place
    x0, y0, x1, y1 = face.bounds
    most, half = max(x1 - x0, y1 - y0), _WINDOW_MM
    is_in = shapely.contains_xy(region, x, y)
    while True:
        window = (x - half, y - half, x + half, y + half)
        near, around = (shapely.clip_by_rect(one, *window) for one in (region, face))
        widths = local_widths(near, around, spacing_mm=half * _SHARE)[0 if is_in else 1]
        found = _holding(widths.at_mm, widths.width_mm, place, half * _SHARE)
        if found is not None and found < half:
            return found
        if half > most:
            return found
        half *= 4
    return None


def _holding(
    at_mm: FloatArray, width_mm: FloatArray, place: tuple[float, float], spacing_mm: float
) -> float | None:
    """The widest disc that holds a place; in a corner, where none does, the one next to it."""
    if not len(width_mm):
        return None
    away = np.hypot(*(at_mm - np.array(place)).T) - width_mm / 2
    holds = away <= spacing_mm / 2
    found = float(width_mm[holds].max() if holds.any() else width_mm[np.argmin(away)])
    return found if math.isfinite(found) else None
