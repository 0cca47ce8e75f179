"""Margins: how the thinnest stroke and land come out at both ends of the uncertainty, and advice.

The advice is solved from the widths that the artwork was measured to have, not canned: how deep,
how small, how coarse a mark would still make everything within the tolerance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.values import Measured

# Nominal heights of lettering by ISO 3098-1: each the root of 2 times the one before.
_STANDARD_HEIGHTS_MM = (1.8, 2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 20.0)
# Stroke of ISO 3098 type B lettering: a tenth of the height.
_HEIGHT_PER_STROKE = 10.0
_SDS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """A finished width with its spread: `low` and `high` are two standard deviations off."""

    width_mm: float
    sd_mm: float
    low_mm: float
    high_mm: float
    survives: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """What would still make everything within the tolerance. None: nothing limits it, or no
    value would do.

    `smallest_scale` is a factor on the artwork's present size; `letter_height_mm` the smallest
    height of ISO 3098 type B lettering, 10 (w + 2 u), and the standard height above it.
    """

    greatest_depth_mm: float | None
    smallest_scale: float | None
    largest_mark_mm: float | None
    letter_height_mm: float
    standard_height_mm: float | None


def stroke_margin(
    opening_mm: float, *, undercut: Measured, mark: tuple[Measured, Measured]
) -> Margin:
    """Return how the thinnest stroke comes out: its opening and the undercut on both edges.

    It survives if the opening does: a mark two standard deviations finer must still open it.
    """
    mark_sd = max(axis.sd for axis in mark)
    sd = math.hypot(2 * undercut.sd, mark_sd)
    width = opening_mm + 2 * undercut.value
    return _margin(width, sd, survives=opening_mm - _SDS * mark_sd > 0)


def land_margin(land_mm: float, *, undercut: Measured, mark: tuple[Measured, Measured]) -> Margin:
    """Return how the thinnest land comes out; it survives if any of it is left at the low end."""
    sd = math.hypot(2 * undercut.sd, max(axis.sd for axis in mark))
    return _margin(land_mm, sd, survives=land_mm - _SDS * sd > 0)


def _margin(width: float, sd: float, *, survives: bool) -> Margin:
    low, high = max(0.0, width - _SDS * sd), width + _SDS * sd
    return Margin(width_mm=width, sd_mm=sd, low_mm=low, high_mm=high, survives=survives)


def needed_land_mm(narrowest_land_mm: float, *, depth_mm: float, factor: Measured | None) -> float:
    """Return the drawn width at which a land keeps the shop's limit at the worst undercut.

    The worst etch factor is two standard deviations low; what it undercuts beyond the planned
    undercut is taken off both edges.
    """
    if factor is None:
        return narrowest_land_mm
    return narrowest_land_mm + 2 * _extra_undercut(depth_mm, factor)


def _extra_undercut(depth_mm: float, factor: Measured) -> float:
    return depth_mm * (1 / low_factor(factor) - 1 / factor.value)


def low_factor(factor: Measured) -> float:
    """Return the etch factor less two standard deviations, but no less than a tenth of it."""
    return max(factor.value - _SDS * factor.sd, 0.1 * factor.value)


def advise(
    *,
    stroke_mm: float,
    land_mm: float,
    mark_mm: float,
    depth_mm: float,
    factor: Measured | None,
    edge_tolerance_mm: float,
    narrowest_land_mm: float,
) -> Relief:
    """Solve for the limits of a job from its narrowest drawn stroke and land.

    `stroke_mm` is best measured without pointed ends (`narrowest(..., leave_out_points=True)`):
    a taper runs through all widths down to nothing, and no depth or size would make its tip.
    A stroke of width w is made within the tolerance e where u + m / 2 <= w / 2 + e; a land of
    width l keeps the shop's limit where l >= limit + 2 (worst undercut - planned undercut).

    Parameters
    ----------
    stroke_mm, land_mm : float
        Narrowest stroke and land as drawn; 0 for a stroke that tapers to nothing.
    mark_mm : float
        The larger axis of the mark.
    depth_mm, factor : float, Measured or None
        Depth and etch factor; None where nothing is etched.
    edge_tolerance_mm, narrowest_land_mm : float
        The shop's limits.
    """
    undercut = depth_mm / factor.value if factor is not None else 0.0
    room = stroke_mm / 2 + edge_tolerance_mm
    height = _HEIGHT_PER_STROKE * (mark_mm + 2 * undercut)
    return Relief(
        greatest_depth_mm=_greatest_depth(room - mark_mm / 2, land_mm - narrowest_land_mm, factor),
        smallest_scale=_smallest_scale(
            needed_stroke_mm(
                mark_mm=mark_mm, undercut_mm=undercut, edge_tolerance_mm=edge_tolerance_mm
            ),
            needed_land_mm(narrowest_land_mm, depth_mm=depth_mm, factor=factor),
            stroke_mm,
            land_mm,
        ),
        largest_mark_mm=_positive(2 * (room - undercut)),
        letter_height_mm=height,
        standard_height_mm=next((h for h in _STANDARD_HEIGHTS_MM if h >= height - 1e-9), None),
    )


def needed_stroke_mm(*, mark_mm: float, undercut_mm: float, edge_tolerance_mm: float) -> float:
    """Return the drawn width from which a stroke is made within the edge tolerance."""
    return 2 * (undercut_mm + mark_mm / 2 - edge_tolerance_mm)


def stroke_remedies(
    width_mm: float,
    *,
    mark_mm: float,
    undercut_mm: float,
    factor: Measured | None,
    edge_tolerance_mm: float,
) -> str:
    """Return, in words, what would make a stroke of this drawn width within the tolerance.

    The size named is of the same computation as the width that `needed_stroke_mm` gives. Depths
    and marks are rounded down, sizes up, so that what is said holds.
    """
    room = width_mm / 2 + edge_tolerance_mm
    ways = []
    if factor is not None and (depth := _down(factor.value * (room - mark_mm / 2))) > 0:
        ways.append(f"etch at most {depth:.3f} mm deep")
    if (mark := _down(2 * (room - undercut_mm))) > 0:
        ways.append(f"use a mark of at most {mark:.3f} mm")
    if width_mm > 0:
        needed = needed_stroke_mm(
            mark_mm=mark_mm, undercut_mm=undercut_mm, edge_tolerance_mm=edge_tolerance_mm
        )
        ways.append(f"make the artwork at least {_percent_up(needed / width_mm)} % of this size")
    return _either(ways)


def land_remedies(
    width_mm: float, *, narrowest_land_mm: float, depth_mm: float, factor: Measured | None
) -> str:
    """Return, in words, what would keep a land of this drawn width as wide as the shop wants."""
    ways = []
    deepest = _deepest_for_land(width_mm - narrowest_land_mm, factor)
    if deepest is not None and _down(deepest) > 0:
        ways.append(f"etch at most {_down(deepest):.3f} mm deep")
    if width_mm > 0:
        needed = needed_land_mm(narrowest_land_mm, depth_mm=depth_mm, factor=factor)
        ways.append(f"make the artwork at least {_percent_up(needed / width_mm)} % of this size")
    return _either(ways)


def depth_that_keeps(
    drawn_mm: float,
    over_mm: tuple[float, float],
    *,
    least_mm: float,
    depth_mm: float,
    factor: Measured,
) -> float | None:
    """Return the greatest depth at which a lost bridge of land stays this wide; None if none.

    A side that comes over the drawn edge draws back with the undercut until it lies on it; at the
    worst etch factor each side comes over by what that undercuts beyond the plan.

    Parameters
    ----------
    drawn_mm, over_mm : float, (float, float)
        Width of the bridge, and how far each side comes over its drawn edge at `depth_mm`.
    least_mm : float
        How much of it must stay.
    depth_mm, factor : float, Measured
        The planned depth, and the etch factor.
    """

    def left(depth: float) -> float:
        less = (depth_mm - depth) / factor.value
        over = sum(max(0.0, side - less) for side in over_mm)
        return drawn_mm - over - 2 * _extra_undercut(depth, factor)

    if left(0.0) < least_mm:
        return None
    low, high = 0.0, depth_mm
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if left(middle) >= least_mm else (low, middle)
    return low


def bridge_remedies(
    drawn_mm: float,
    over_mm: tuple[float, float],
    *,
    resist_mm: float,
    narrowest_land_mm: float,
    depth_mm: float,
    factor: Measured | None,
    mark_mm: float,
) -> str:
    """Return, in words, what would keep a lost bridge or counter as wide as the shop wants.

    One drawn narrower than that can only be drawn wider.
    """
    needed = needed_land_mm(narrowest_land_mm, depth_mm=depth_mm, factor=factor)
    ways = []
    if factor is not None:
        depth = depth_that_keeps(
            drawn_mm, over_mm, least_mm=narrowest_land_mm, depth_mm=depth_mm, factor=factor
        )
        if depth is not None and _down(depth) > 0:
            ways.append(f"etch at most {_down(depth):.3f} mm deep")
    # Where the beam itself clears it, nobody can tell how much finer a mark must be.
    if resist_mm > 0 and needed <= drawn_mm:
        finer = mark_mm - 2 * _drawing_back(over_mm, drawn_mm - needed)
        if _down(finer) > 0:
            ways.append(f"use a mark of at most {_down(finer):.3f} mm")
    if resist_mm > 0:
        wide = math.ceil((needed + sum(max(0.0, side) for side in over_mm)) * 1000 - 1e-6) / 1000
        ways.append(f"draw it at least {wide:.3f} mm wide")
    return _either(ways) or "Draw it wider, or the strokes beside it thicker."


def _drawing_back(over_mm: tuple[float, float], room_mm: float) -> float:
    """Return by how much the sides must draw back until no more than this lies over the edges."""
    small, large = sorted(max(0.0, side) for side in over_mm)
    # First both draw back, then the one that still lies over alone.
    both = (small + large - room_mm) / 2
    return max(0.0, both if both <= small else large - room_mm)


def _down(value_mm: float) -> float:
    return math.floor(value_mm * 1000 + 1e-6) / 1000


def _percent_up(share: float) -> int:
    return math.ceil(100 * share - 1e-6)


def _either(ways: list[str]) -> str:
    """Join ways with commas and an or, the first letter a capital; empty where there is none."""
    text = ", or ".join([", ".join(ways[:-1]), ways[-1]] if len(ways) > 1 else ways)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _greatest_depth(stroke_room: float, land_room: float, factor: Measured | None) -> float | None:
    """Return the depth at which strokes or lands first fail."""
    if factor is None:
        return None
    deepest, for_land = factor.value * stroke_room, _deepest_for_land(land_room, factor)
    return _positive(deepest if for_land is None else min(deepest, for_land))


def _deepest_for_land(land_room: float, factor: Measured | None) -> float | None:
    """Return the depth at which a land fails that has this much to spare; None if none does."""
    worse = 1 / low_factor(factor) - 1 / factor.value if factor is not None else 0.0
    return land_room / (2 * worse) if worse > 0 else None


def _smallest_scale(stroke: float, land: float, stroke_mm: float, land_mm: float) -> float | None:
    """Return the factor at which the narrowest stroke or land is just wide enough."""
    if stroke_mm <= 0 or land_mm <= 0:
        return None
    return _positive(max(stroke / stroke_mm, land / land_mm))


def _positive(value: float) -> float | None:
    return value if value > 0 else None
