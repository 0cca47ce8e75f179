"""Laying out a coupon: what it needs to know, its parts, and where they go on the blank."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from itertools import chain
from typing import Any, TypeVar

import shapely
from shapely.affinity import translate
from shapely.geometry import MultiLineString, MultiPolygon, Point
from shapely.geometry.base import BaseGeometry

from stopout.coupons.glyphs import text_lines, text_size_mm
from stopout.coupons.layout import (
    Cleared,
    Comb,
    CouponLayout,
    DoseLine,
    Land,
    Lettering,
    Pit,
    RegistrationMark,
    Slot,
    SpacingPatch,
    Star,
    Tooth,
)
from stopout.coupons.packing import Room, pack
from stopout.errors import CouponError

_T = TypeVar("_T")
# Paint is thin and often chipped nearer to the edge than this: common practice, no source.
_EDGE_MM = 1.5
# Between parts, so that a scan tells them apart.
_GAP_MM = 1.2
# A disc is 47 pixels across at 600 dpi; the one at the lower left is larger, so that a person
# sees which corner it is.
_DISC_MM, _CORNER_DISC_MM = 2.0, 3.0
# A fifth disc at this share of the lower edge: no turn and no mirror image then looks alike.
_FIFTH = 0.32
# Lettering is at least this many marks high: below eight, loops begin to fill.
_MARKS_HIGH = 10.0
_LEAST_LETTER_MM = 1.2
# How far a rectangle grows between two tries for the size that would do.
_GROWTH = 1.04


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What a coupon is laid out for: the beam at the job's settings, and the machine's limits.

    `mark_mm` and `radius_mm` (1/e^2) are along x and y; `dose_ratio` is that of the job's line
    dose across x and across y, one pass. `undercut_mm` is what the etch is expected to take.
    `search_j_per_mm` is given where nothing was measured: the line doses between which the
    threshold lies.
    """

    mark_mm: tuple[float, float]
    radius_mm: tuple[float, float]
    dose_ratio: tuple[float, float]
    power_w: float
    power_fraction: float
    speed_mm_s: float
    top_speed_mm_s: float
    step_mm: float
    spacing_mm: tuple[float, float]
    undercut_mm: float = 0.0
    is_metal: bool = True
    search_j_per_mm: tuple[float, float] | None = None

    @property
    def letter_mm(self) -> float:
        """Height of the labels between centre lines."""
        return max(_LEAST_LETTER_MM, _MARKS_HIGH * max(self.mark_mm))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CouponPart:
    """One part of a coupon, drawn from its own lower left corner.

    `areas` are resist openings to be filled, `strokes` single lines of the beam's centre, both at
    the job's own settings; the rest is as in `CouponLayout`. A part that `is_needed` may not be
    left out.
    """

    name: str
    size_mm: tuple[float, float]
    is_needed: bool = False
    areas: tuple[BaseGeometry, ...] = ()
    strokes: tuple[BaseGeometry, ...] = ()
    lines: tuple[DoseLine, ...] = ()
    slots: tuple[Slot, ...] = ()
    patches: tuple[SpacingPatch, ...] = ()
    lands: tuple[Land, ...] = ()
    combs: tuple[Comb, ...] = ()
    pits: tuple[Pit, ...] = ()
    stars: tuple[Star, ...] = ()
    lettering: tuple[Lettering, ...] = ()
    other: tuple[Cleared, ...] = ()

    def moved(self, x_mm: float, y_mm: float) -> CouponPart:
        """The part with its lower left corner at (x, y)."""
        by = (x_mm, y_mm)
        records: dict[str, Any] = {
            name: tuple(_moved(record, by) for record in getattr(self, name)) for name in _RECORDS
        }
        return replace(
            self,
            areas=tuple(translate(area, x_mm, y_mm) for area in self.areas),
            strokes=tuple(translate(stroke, x_mm, y_mm) for stroke in self.strokes),
            **records,
        )


_RECORDS = ("lines", "slots", "patches", "lands", "combs", "pits", "stars", "lettering", "other")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CouponDesign:
    """A coupon laid out: its description, and what is cleared at the job's own settings.

    `parts` names each part with its box, for the picture; `left_out` the parts without room.
    """

    layout: CouponLayout
    areas: MultiPolygon
    strokes: MultiLineString
    parts: tuple[tuple[str, tuple[float, float, float, float]], ...]
    left_out: tuple[str, ...]


def label(text: str, settings: Settings, *, at_mm: tuple[float, float]) -> CouponPart:
    """A text at the labels' height; `at_mm` is the lower left corner of what it clears."""
    half_x, half_y = settings.mark_mm[0] / 2, settings.mark_mm[1] / 2
    height = settings.letter_mm
    wide, high = text_size_mm(text, height)
    x, y = at_mm
    box = (x, y, x + wide + 2 * half_x, y + high + 2 * half_y)
    lines = text_lines(text, at_mm=(x + half_x, y + half_y), height_mm=height)
    return CouponPart(
        name=text,
        size_mm=(box[2] - x, box[3] - y),
        strokes=tuple(lines.geoms),
        other=(Cleared(box_mm=box, what=f"label {text}"),),
    )


def with_labels(part: CouponPart, labels: Iterable[CouponPart]) -> CouponPart:
    """A part with its labels' strokes and boxes added.

    Parameters
    ----------
    part : CouponPart
        The part.
    labels : iterable of CouponPart
        Labels at their places within it.
    """
    labels = list(labels)
    return replace(
        part,
        strokes=(*part.strokes, *(stroke for one in labels for stroke in one.strokes)),
        other=(*part.other, *(box for one in labels for box in one.other)),
    )


def lay_out(
    parts: Sequence[CouponPart],
    settings: Settings,
    *,
    face: BaseGeometry,
    size_mm: tuple[float, float],
    blank: CouponLayout,
) -> CouponDesign:
    """Lay parts on a blank: the registration discs first, then the parts in their order.

    Parameters
    ----------
    parts : sequence of CouponPart
        The most important first.
    settings : Settings
        The beam.
    face : BaseGeometry
        The blank's face as worked, holes cut out.
    size_mm : (float, float)
        The blank's width and height.
    blank : CouponLayout
        The coupon without anything on it: its kind, size and identity.

    Raises
    ------
    CouponError
        If a part that is needed finds no room; it says what size would do.
    """
    tried = _try(parts, face)
    if tried is not None and len(tried[1]) < len(parts):
        # What does not fit in the order of importance may fit all the same, the tallest first.
        order = sorted(range(len(parts)), key=lambda k: -parts[k].size_mm[1])
        again = _try([parts[k] for k in order], face)
        if again is not None and len(again[1]) == len(parts):
            tried = (again[0], {order[k]: corner for k, corner in again[1].items()})
    if tried is None:
        raise CouponError(_too_small(parts, blank, size_mm))
    marks, corners = tried
    placed = [part.moved(*corners[k]) for k, part in enumerate(parts) if k in corners]
    discs = [_disc(mark) for mark in marks]
    records: dict[str, Any] = {name: _joined(placed, name) for name in _RECORDS}
    layout = replace(blank, marks=marks, **records)
    return CouponDesign(
        layout=layout,
        areas=MultiPolygon(
            shapely.get_parts([*discs, *chain(*(part.areas for part in placed))]).tolist()
        ),
        strokes=MultiLineString(list(chain(*(part.strokes for part in placed)))),
        parts=tuple(
            (
                part.name,
                (*corners[k], corners[k][0] + part.size_mm[0], corners[k][1] + part.size_mm[1]),
            )
            for k, part in enumerate(parts)
            if k in corners
        ),
        left_out=tuple(part.name for k, part in enumerate(parts) if k not in corners),
    )


def _try(
    parts: Sequence[CouponPart], face: BaseGeometry
) -> tuple[tuple[RegistrationMark, ...], dict[int, tuple[float, float]]] | None:
    """Discs and corners of the parts; None where a needed part or a disc finds no room."""
    usable = face.buffer(-_EDGE_MM)
    room = Room(usable)
    marks = _marks(room, usable)
    if marks is None:
        return None
    packed = pack(room, [(w + _GAP_MM, h + _GAP_MM) for w, h in (part.size_mm for part in parts)])
    if any(parts[k].is_needed for k in packed.left_out):
        return None
    half = _GAP_MM / 2
    return marks, {k: (x + half, y + half) for k, (x, y) in packed.corners_mm.items()}


def _marks(room: Room, usable: BaseGeometry) -> tuple[RegistrationMark, ...] | None:
    """A disc as near to each corner as can be, and the fifth on the lower edge."""
    if usable.is_empty:
        return None
    x0, y0, x1, y1 = usable.bounds
    wanted = [
        ((x0, y0), _CORNER_DISC_MM),
        ((x1, y0), _DISC_MM),
        ((x0, y1), _DISC_MM),
        ((x1, y1), _DISC_MM),
        ((x0 + _FIFTH * (x1 - x0), y0), _DISC_MM),
    ]
    marks = []
    for near, diameter in wanted:
        side = diameter + _GAP_MM
        corner = room.place(side, side, near_mm=near)
        if corner is None:
            return None
        centre = (corner[0] + side / 2, corner[1] + side / 2)
        marks.append(RegistrationMark(centre_mm=_rounded(centre), diameter_mm=diameter))
    return tuple(marks)


def _too_small(
    parts: Sequence[CouponPart], blank: CouponLayout, size_mm: tuple[float, float]
) -> str:
    """One sentence: what size of plain blank would do, in these proportions."""
    needed = [part for part in parts if part.is_needed]
    width, height = size_mm
    grown = 1.0
    while True:
        grown *= _GROWTH
        if _try(needed, shapely.box(0, 0, grown * width, grown * height)) is not None:
            break
    good = f"{-(-grown * width // 1):.0f} x {-(-grown * height // 1):.0f} mm"
    return (
        f"the blank, {width:g} x {height:g} mm less its holes and round corners, is too small for "
        f"a coupon of this kind on this machine; a plain piece of the same sheet, {good}, would "
        "do: give it with --size"
    )


def _disc(mark: RegistrationMark) -> BaseGeometry:
    return Point(mark.centre_mm).buffer(mark.diameter_mm / 2, quad_segs=32)


def _joined(parts: Sequence[CouponPart], name: str) -> tuple[Any, ...]:
    return tuple(chain(*(getattr(part, name) for part in parts)))


def _moved(record: _T, by: tuple[float, float]) -> _T:
    """A record with its places shifted: fields that are a Point or a Box, teeth and all."""
    changes: dict[str, Any] = {}
    for field in fields(record):  # type: ignore[arg-type]
        value = getattr(record, field.name)
        if field.type == "Point":
            changes[field.name] = _rounded((value[0] + by[0], value[1] + by[1]))
        elif field.type == "Box":
            x0, y0, x1, y1 = value
            changes[field.name] = _rounded((x0 + by[0], y0 + by[1], x1 + by[0], y1 + by[1]))
        elif str(field.type).startswith("tuple[Tooth"):
            teeth: tuple[Tooth, ...] = value
            changes[field.name] = tuple(_moved(tooth, by) for tooth in teeth)
    return replace(record, **changes)  # type: ignore[type-var]


def _rounded(place: Sequence[float]) -> Any:
    """Places to 0.1 um, as programs give them."""
    return tuple(round(value, 4) + 0.0 for value in place)
