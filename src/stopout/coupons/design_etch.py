"""The etch coupon: slots, lands and pits of stepped widths, stars, and the smallest letters.

A slot's finished width is its opening in the resist and twice the undercut, so slots in both axes
give the undercut; lands show which of them survive it; pits wide enough for a gauge give the depth
and how it depends on the width; stars show how far corners round off.
"""

from __future__ import annotations

import math

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.coupons.design import CouponPart, Settings, label, with_labels
from stopout.coupons.glyphs import text_lines, text_size_mm
from stopout.coupons.layout import Cleared, Land, Lettering, Pit, Slot, Star
from stopout.values import AXES, Axis

# Openings in marks: from the narrowest that can be cleared, just over one mark.
_SLOTS = (1.05, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0)
_FEW_SLOTS = (1.05, 2.0, 4.0, 8.0)
_SLOT_MM = 8.0
# Lands in undercuts of both edges together: the first is etched away, the next just stands.
_LANDS = (0.8, 1.2, 1.6, 2.2, 3.0, 4.0)
_LEAST_LAND_MM = 0.06
_PITS_MM = (0.5, 1.0, 2.0, 4.0)
_FEW_PITS_MM = (1.0, 3.0)
_PIT_MM = 4.0
_STARS = (8, 12)
_STAR_MM, _INNER = 2.5, 0.4
_LETTERS_MM = (0.8, 1.1, 1.6, 2.2)
_TEXT = "TIDE 8"
# Between openings, so that each is etched as if alone.
_LEAST_APART_MM, _APART_UNDERCUTS = 0.8, 6.0
_CLEAR_MM = 0.5
_ROUNDED_MM = 0.005


def etch_parts(settings: Settings, compactness: int = 0) -> list[CouponPart]:
    """The parts of an etch coupon, the most important first.

    Parameters
    ----------
    settings : Settings
        The beam at the job's settings, and the undercut that is expected.
    compactness : int
        At 1 the openings are shorter, at 2 there are also fewer of them.
    """
    slots = {axis: _slots(axis, settings, compactness) for axis in AXES}
    lands = {axis: _lands(axis, settings, compactness) for axis in AXES}
    return [
        slots["x"],
        slots["y"],
        _pits(settings, compactness),
        lands["x"],
        lands["y"],
        _letters(settings),
        _stars(settings),
    ]


def _up(width_mm: float) -> float:
    """To whole steps of 5 um, upwards: widths that a label can name."""
    return round(math.ceil(width_mm / _ROUNDED_MM - 1e-6) * _ROUNDED_MM, 4)


def _um(width_mm: float) -> str:
    return f"{1000 * width_mm:.0f}"


def _apart(settings: Settings) -> float:
    return max(_LEAST_APART_MM, _APART_UNDERCUTS * settings.undercut_mm)


def _slots(axis: Axis, settings: Settings, compactness: int) -> CouponPart:
    """Slots side by side, each with its opening in um before it."""
    shares = _FEW_SLOTS if compactness >= 2 else _SLOTS
    widths = [_up(share * max(settings.mark_mm)) for share in shares]
    row = _Row(axis, settings, f"{axis.upper()}S", widths, is_short=compactness >= 1)
    slots, areas = [], []
    for k, width in enumerate(widths):
        start = row.next(width, _um(width))
        box = row.box(start, width)
        areas.append(shapely.box(*box))
        first, last = row.ends(start + width / 2)
        slots.append(Slot(id=f"{row.name}-{k}", from_mm=first, to_mm=last, opening_mm=width))
    return row.part(is_needed=True, slots=tuple(slots), areas=tuple(areas))


def _lands(axis: Axis, settings: Settings, compactness: int) -> CouponPart:
    """Pairs of openings with a land between them, each with its width in um before it."""
    both = 2 * settings.undercut_mm
    opening = _up(4 * max(settings.mark_mm))
    widths = sorted({max(_up(share * both), _LEAST_LAND_MM) for share in _LANDS})
    row = _Row(axis, settings, f"{axis.upper()}L", widths, is_short=compactness >= 1)
    lands, areas = [], []
    for k, width in enumerate(widths):
        start = row.next(2 * opening + width, _um(width))
        areas += [
            shapely.box(*row.box(start, opening)),
            shapely.box(*row.box(start + opening + width, opening)),
        ]
        first, last = row.ends(start + opening + width / 2)
        lands.append(
            Land(id=f"{row.name}-{k}", from_mm=first, to_mm=last, land_mm=width, opening_mm=opening)
        )
    pairs = zip(areas[::2], areas[1::2], strict=True)
    other = tuple(
        _box_of(f"land {land.id}", *pair) for land, pair in zip(lands, pairs, strict=True)
    )
    return row.part(lands=tuple(lands), areas=tuple(areas), other=other)


def _box_of(what: str, *areas: BaseGeometry) -> Cleared:
    """The box round openings, for readers that know no more of a part than that it is cleared."""
    x0, y0, x1, y1 = shapely.total_bounds(areas)
    return Cleared(box_mm=(float(x0), float(y0), float(x1), float(y1)), what=what)


class _Row:
    """Openings side by side: where the next one goes, along either axis.

    Parameters
    ----------
    axis : {"x", "y"}
        The direction of the openings.
    settings : Settings
        The beam.
    name : str
        The row's name.
    widths_mm : list of float
        What the labels will say.
    is_short : bool
        Whether the openings are shorter.
    """

    def __init__(
        self, axis: Axis, settings: Settings, name: str, widths_mm: list[float], *, is_short: bool
    ) -> None:
        self.axis, self.settings, self.name = axis, settings, name
        self.long_mm = _SLOT_MM * (0.7 if is_short else 1)
        widest = max((_um(width) for width in widths_mm), key=len)
        wide, high = label(widest, settings, at_mm=(0.0, 0.0)).size_mm
        self._before = (wide if axis == "x" else high) + _CLEAR_MM
        self._beside = high if axis == "x" else wide
        self._at = 0.0
        self._labels: list[CouponPart] = []

    def next(self, width_mm: float, text: str) -> float:
        """Where an opening of this width begins; its label is laid beside it."""
        room = max(width_mm, self._beside)
        start = self._at + (room - width_mm) / 2
        one = label(text, self.settings, at_mm=(0.0, 0.0))
        beside = one.size_mm[1 if self.axis == "x" else 0]
        corner = (0.0, start + width_mm / 2 - beside / 2)
        self._labels.append(one.moved(*(corner if self.axis == "x" else corner[::-1])))
        gap = _apart(self.settings)
        apart = _CLEAR_MM if self.axis == "x" else _LEAST_APART_MM
        self._at += max(room + apart, (room + width_mm) / 2 + gap)
        return start

    def box(self, start: float, width_mm: float) -> tuple[float, float, float, float]:
        """The box of an opening."""
        near, far = self._before, self._before + self.long_mm
        if self.axis == "x":
            return (near, start, far, start + width_mm)
        return (start, near, start + width_mm, far)

    def ends(self, at: float) -> tuple[tuple[float, float], tuple[float, float]]:
        """Both ends of an opening's centre line."""
        near, far = (self._before, at), (self._before + self.long_mm, at)
        return (near, far) if self.axis == "x" else (near[::-1], far[::-1])

    def part(
        self,
        *,
        areas: tuple[BaseGeometry, ...],
        is_needed: bool = False,
        slots: tuple[Slot, ...] = (),
        lands: tuple[Land, ...] = (),
        other: tuple[Cleared, ...] = (),
    ) -> CouponPart:
        """The whole row, its name above it."""
        wide, high = self._before + self.long_mm, self._at
        if self.axis == "y":
            wide, high = high, wide
        title = label(self.name, self.settings, at_mm=(0.0, high + _CLEAR_MM))
        whole = CouponPart(
            name=self.name,
            size_mm=(max(wide, title.size_mm[0]), high + _CLEAR_MM + title.size_mm[1]),
            is_needed=is_needed,
            areas=areas,
            slots=slots,
            lands=lands,
            other=other,
        )
        return with_labels(whole, [title, *self._labels])


def _pits(settings: Settings, compactness: int) -> CouponPart:
    """Openings wide enough for a gauge's tip, and narrower ones beside them."""
    widths = [
        width
        for width in (_FEW_PITS_MM if compactness >= 2 else _PITS_MM)
        if width > 1.5 * max(settings.mark_mm)
    ]
    long = _PIT_MM * (0.75 if compactness else 1)
    below = settings.letter_mm + settings.mark_mm[1] + _CLEAR_MM
    title = label("D", settings, at_mm=(0.0, below))
    at = title.size_mm[0] + _CLEAR_MM
    pits, areas, labels = [], [], [title]
    for k, width in enumerate(widths):
        text = label(f"{width:g}", settings, at_mm=(at, 0.0))
        room = max(width, text.size_mm[0])
        box = (at, below, at + width, below + long)
        pits.append(Pit(id=f"D-{k}", box_mm=box))
        areas.append(shapely.box(*box))
        labels.append(text)
        at += room + max(_apart(settings), 1.0)
    part = CouponPart(
        name="D",
        size_mm=(at, below + long),
        is_needed=True,
        pits=tuple(pits),
        areas=tuple(areas),
        other=tuple(_box_of(f"pit {pit.id}", area) for pit, area in zip(pits, areas, strict=True)),
    )
    return with_labels(part, labels)


def _stars(settings: Settings) -> CouponPart:
    """Stars with many points."""
    wide = 2 * _STAR_MM
    stars, areas = [], []
    for k, points in enumerate(_STARS):
        centre = (_STAR_MM + k * (wide + 1.0), _STAR_MM)
        star = Star(
            id=f"A-{k}",
            centre_mm=centre,
            outer_mm=_STAR_MM,
            inner_mm=_INNER * _STAR_MM,
            points=points,
        )
        stars.append(star)
        areas.append(_star(star))
    title = label("A", settings, at_mm=(0.0, wide + _CLEAR_MM))
    part = CouponPart(
        name="A",
        size_mm=(len(_STARS) * (wide + 1.0) - 1.0, wide + _CLEAR_MM + title.size_mm[1]),
        stars=tuple(stars),
        areas=tuple(areas),
        other=tuple(
            _box_of(f"star {star.id}", area) for star, area in zip(stars, areas, strict=True)
        ),
    )
    return with_labels(part, [title])


def _star(star: Star) -> Polygon:
    """The star's outline, one point up."""
    corners = []
    for k in range(2 * star.points):
        radius = star.outer_mm if k % 2 == 0 else star.inner_mm
        turn = math.pi / 2 + k * math.pi / star.points
        corners.append(
            (
                star.centre_mm[0] + radius * math.cos(turn),
                star.centre_mm[1] + radius * math.sin(turn),
            )
        )
    return Polygon(corners)


def _letters(settings: Settings) -> CouponPart:
    """One text in shrinking sizes, single strokes of the beam."""
    mark_x, mark_y = settings.mark_mm
    lettering, strokes, boxes = [], [], []
    bottom, widest = 0.0, 0.0
    for k, height in enumerate(_LETTERS_MM):
        wide, high = text_size_mm(_TEXT, height)
        box = (0.0, bottom, wide + mark_x, bottom + high + mark_y)
        lines = text_lines(_TEXT, at_mm=(mark_x / 2, bottom + mark_y / 2), height_mm=height)
        strokes += list(lines.geoms)
        boxes.append(Cleared(box_mm=box, what=f"letters {height:g} mm high"))
        lettering.append(
            Lettering(
                id=f"T-{k}",
                box_mm=box,
                text=_TEXT,
                height_mm=round(height + mark_y, 4),
                stroke_mm=max(settings.mark_mm),
            )
        )
        bottom += high + mark_y + max(_CLEAR_MM, 3 * settings.undercut_mm)
        widest = max(widest, box[2])
    return CouponPart(
        name="T",
        size_mm=(widest, bottom),
        lettering=tuple(lettering),
        strokes=tuple(strokes),
        other=tuple(boxes),
    )
