"""How much room a line or slot has to either side before anything else on the coupon begins."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.coupons.layout import CouponLayout, DoseLine, Slot

_LEAST_MM = 0.15


def room_mm(
    layout: CouponLayout, feature: DoseLine | Slot, *, reach_mm: float, trim_mm: float
) -> float:
    """Clear distance from a feature's nominal edge to whatever else is on the coupon.

    Parameters
    ----------
    layout : CouponLayout
    feature : DoseLine or Slot
        One of the layout's own. A line counts as having no width.
    reach_mm : float
        What is asked for at most.
    trim_mm : float
        What is left out at each end: labels stand beside the ends.

    Returns
    -------
    float
        mm, at least 0.15.
    """
    others = [
        *_areas(layout),
        *(_line(one) for one in layout.lines if one is not feature),
        *(_slot(one) for one in layout.slots if one is not feature),
    ]
    own = feature.opening_mm / 2 if isinstance(feature, Slot) else 0.0
    middle = _trimmed(feature, trim_mm)
    beside = middle.buffer(own + reach_mm, cap_style="flat")
    near = shapely.intersection(beside, np.array(others, dtype=object))
    # What does not come to lie beside it is nan away.
    distances = np.nan_to_num(shapely.distance(middle, near), nan=np.inf)
    return float(np.clip(float(distances.min()) - own, _LEAST_MM, reach_mm))


def _trimmed(feature: DoseLine | Slot, trim_mm: float) -> BaseGeometry:
    a, b = np.array(feature.from_mm), np.array(feature.to_mm)
    step = (b - a) / np.hypot(*(b - a)) * trim_mm
    return shapely.LineString([a + step, b - step])


def _areas(layout: CouponLayout) -> list[BaseGeometry]:
    """All that is neither a line nor a slot, and the blank's edge."""
    boxes = [item.box_mm for item in layout.patches]
    boxes += [item.box_mm for item in layout.other]
    boxes += [item.box_mm for item in layout.pits]
    boxes += [item.box_mm for item in layout.lettering]
    discs = [(mark.centre_mm, mark.diameter_mm / 2) for mark in layout.marks]
    discs += [(star.centre_mm, star.outer_mm) for star in layout.stars]
    lands = [
        shapely.LineString([land.from_mm, land.to_mm]).buffer(
            land.land_mm / 2 + land.opening_mm, cap_style="flat"
        )
        for land in layout.lands
    ]
    teeth = [
        shapely.LineString([tooth.from_mm, tooth.to_mm])
        for comb in layout.combs
        for tooth in comb.teeth
    ]
    return [
        *(shapely.box(*box) for box in boxes),
        *(shapely.Point(centre).buffer(radius) for centre, radius in discs),
        *lands,
        *teeth,
        shapely.box(0, 0, layout.width_mm, layout.height_mm).exterior,
    ]


def _line(feature: DoseLine | Slot) -> BaseGeometry:
    return shapely.LineString([feature.from_mm, feature.to_mm])


def _slot(slot: Slot) -> BaseGeometry:
    return _line(slot).buffer(slot.opening_mm / 2, cap_style="flat")
