"""Where pieces lie on panels: a grid, read from the top left like a page, as worked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from stopout.errors import PlanError
from stopout.job.series import Panel
from stopout.units import format_number
from stopout.values import Box

Place = tuple[float, float]
# Whole hundredths of a millimetre: every control prints and every person reads them.
_GRID_MM = 0.01
# Cut marks: shortest and longest, how wide, and how far from the panel's edge and from the pieces.
_MARK_MM, _MARK_WIDE_MM, _MARK_OFF_MM = (1.0, 4.0), 0.4, 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Panels of one size; `places_mm` are the lower left corners of a full one's pieces."""

    size_mm: tuple[float, float]
    places_mm: tuple[Place, ...]
    count: int

    @property
    def n_panels(self) -> int:
        """How many panels all pieces take."""
        return math.ceil(self.count / len(self.places_mm))

    def on(self, panel: int) -> range:
        """Which pieces, counted from 0, lie on a panel, counted from 0."""
        full = len(self.places_mm)
        return range(panel * full, min((panel + 1) * full, self.count))


def lay_panels(
    count: int,
    piece_mm: tuple[float, float],
    panel: Panel,
    *,
    room_mm: tuple[float, float],
    taken_mm: Sequence[Box] = (),
) -> Layout:
    """Lay pieces out.

    Parameters
    ----------
    count : int
        How many pieces there are.
    piece_mm : (width, height)
        Of one.
    panel : Panel
        Gaps, margin, size and count as asked for.
    room_mm : (width, height)
        The most that a panel may measure: the bed, or the film's sheet.
    taken_mm : sequence of (x0, y0, x1, y1)
        Where nothing may lie, from the corner of `room_mm`: clamps.

    Raises
    ------
    PlanError
        If not one piece finds room, or the count asked for does not.
    """
    most = panel.size_mm or room_mm
    pitch = (piece_mm[0] + panel.gap_mm, piece_mm[1] + panel.gap_mm)
    fits = tuple(
        max(0, math.floor((side - 2 * panel.margin_mm + panel.gap_mm) / step + 1e-9))
        for side, step in zip(most, pitch, strict=True)
    )
    columns, rows = panel.count or _fewest(count, fits)
    if min(fits) < 1 or columns > fits[0] or rows > fits[1]:
        need = [
            n * step - panel.gap_mm + 2 * panel.margin_mm
            for n, step in zip((max(1, columns), max(1, rows)), pitch, strict=True)
        ]
        raise PlanError(
            f"{max(1, columns)} x {max(1, rows)} pieces of {_mm(piece_mm)} mm need a panel of "
            f"{_mm(need)} mm, and there is room for {_mm(most)} mm; lower panel.count, gap or "
            "margin, or give a larger panel.size",
            at=("panel",),
        )
    own = tuple(
        math.ceil((n * step - panel.gap_mm + 2 * panel.margin_mm) / _GRID_MM - 1e-9) * _GRID_MM
        for n, step in zip((columns, rows), pitch, strict=True)
    )
    size = panel.size_mm or (own[0], own[1])
    places = [
        (
            round(panel.margin_mm + column * pitch[0], 4),
            round(size[1] - panel.margin_mm - piece_mm[1] - row * pitch[1], 4),
        )
        for row in range(rows)
        for column in range(columns)
    ]
    free = tuple(place for place in places if not _is_taken(place, piece_mm, taken_mm))
    if not free:
        raise PlanError(
            "clamps leave no place for a piece on the panel; move them", at=("machine", "clamp")
        )
    return Layout(size_mm=size, places_mm=free, count=count)


def order_of(places_mm: Sequence[Place], order: str) -> list[int]:
    """Return the order in which the beam takes the places: to and fro from the nearest to zero.

    With `apart` every second place comes in a second round.
    """
    rows = sorted({y for _, y in places_mm})
    way = []
    for number, y in enumerate(rows):
        row = [k for k, place in enumerate(places_mm) if place[1] == y]
        way += sorted(row, key=lambda k: places_mm[k][0], reverse=number % 2 == 1)
    return way if order == "near" else [*way[::2], *way[1::2][::-1]]


def cut_marks(layout: Layout, piece_mm: tuple[float, float], margin_mm: float) -> list[Box]:
    """Return the boxes of cut marks: in the margin, in line with the edges of the pieces.

    Raises
    ------
    PlanError
        If the margin has no room for them.
    """
    long = min(_MARK_MM[1], margin_mm - 2 * _MARK_OFF_MM)
    if long < _MARK_MM[0]:
        raise PlanError(
            f"panel.cut_marks need a margin of {_MARK_MM[0] + 2 * _MARK_OFF_MM:g} mm or more",
            at=("panel", "cut_marks"),
        )
    half = _MARK_WIDE_MM / 2
    wide, high = layout.size_mm
    boxes: list[Box] = []
    for x in sorted({x + end for x, _ in layout.places_mm for end in (0.0, piece_mm[0])}):
        for y in (_MARK_OFF_MM, high - _MARK_OFF_MM - long):
            boxes.append((x - half, y, x + half, y + long))
    for y in sorted({y + end for _, y in layout.places_mm for end in (0.0, piece_mm[1])}):
        for x in (_MARK_OFF_MM, wide - _MARK_OFF_MM - long):
            boxes.append((x, y - half, x + long, y + half))
    return boxes


def _fewest(count: int, fits: tuple[int, ...]) -> tuple[int, int]:
    """As many columns as fit, and no more rows than the pieces need."""
    columns = min(fits[0], count)
    rows = min(fits[1], math.ceil(count / max(1, columns)))
    return columns, rows


def _is_taken(place: Place, piece_mm: tuple[float, float], taken_mm: Sequence[Box]) -> bool:
    x, y = place
    return any(
        x < box[2] and x + piece_mm[0] > box[0] and y < box[3] and y + piece_mm[1] > box[1]
        for box in taken_mm
    )


def _mm(size: Sequence[float]) -> str:
    return " x ".join(format_number(side) for side in size)
