"""What is marked on the predicted piece, so that no mark hides another.

Rings with numbers go around what the list tells of; squares with letters stand where enlargements
were taken.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.pictures.means.drawing import INK, Frame, line, text
from stopout.pictures.means.fonts import text_width
from stopout.pictures.piece.deviations import OffRing
from stopout.pictures.piece.scene import CloseUp

_HALF_BADGE_PX = 16.0
# Rings whose middles and sides differ by no more than this are drawn as one.
_SAME_RING_PX = 24.0
# Half the side of the square where an enlargement was taken.
_SQUARE_PX = 15.0
# The letters beside it.
_LETTER_PX = 30.0
# A ring's line with the white beneath it.
_RING_PX = 6.0


def marks(
    ringed: Sequence[OffRing], places: Sequence[CloseUp], frame: Frame, made: BaseGeometry
) -> str:
    """Draw rings and squares on a panel.

    Parameters
    ----------
    ringed : sequence of OffRing
        What to go around, in mm of the piece.
    places : sequence of CloseUp
        Where enlargements were taken, two at the most.
    frame : Frame
        The panel.
    made : BaseGeometry
        What is drawn beneath, in mm of the piece; letters hide as little of it as they can.
    """
    rings = _with_numbers(ringed, frame)
    busy = [covered for ring in rings for covered in ring.covered]
    return _numbered(rings) + _window_marks(places, frame, made, busy)


def badge(x: float, y: float, label: str) -> str:
    """A number, or several as `3–7`, on a dark ground, as the list repeats it; centred at x."""
    half = _half_badge(label)
    return (
        f'<rect x="{x - half:.1f}" y="{y - 16:.1f}" width="{2 * half:.1f}" height="32" rx="16" '
        f'fill="{INK}" stroke="#fff" stroke-width="3"/>'
        + text(label, x, y + 8, size=23, weight=600, fill="#fff", anchor="middle")
    )


def told_numbers(numbers: Sequence[int]) -> str:
    """Numbers in words, runs of three or more as `3–7`: 1, 4, 5, 6 is `1, 4–6`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )


class _Ring(NamedTuple):
    """A ring on the panel: its middle, half its sides, its numbers and where they stand; in px."""

    x: float
    y: float
    half_x: float
    half_y: float
    label: str
    spot: tuple[float, float]

    @property
    def covered(self) -> tuple[BaseGeometry, BaseGeometry]:
        """What its numbers cover, and its line."""
        (x, y), half = self.spot, _half_badge(self.label)
        number = shapely.box(x - half, y - _HALF_BADGE_PX, x + half, y + _HALF_BADGE_PX)
        sides = shapely.box(
            self.x - self.half_x, self.y - self.half_y, self.x + self.half_x, self.y + self.half_y
        )
        return number, sides.exterior.buffer(_RING_PX / 2)


def _with_numbers(ringed: Sequence[OffRing], frame: Frame) -> list[_Ring]:
    """Rings with their numbers, each number where it hides no other; alike rings share one."""
    taken: list[tuple[float, float, float]] = []
    rings = []
    for (x, y, half_x, half_y), label in _shared(ringed, frame):
        half = _half_badge(label)
        spot = _free_spot((x, y), (half_x, half_y), half, taken, frame)
        taken.append((*spot, half))
        rings.append(_Ring(x, y, half_x, half_y, label, spot))
    return rings


def _numbered(found: Sequence[_Ring]) -> str:
    """Rings with their numbers on top."""
    rings, badges = [], []
    for x, y, half_x, half_y, label, spot in found:
        around = (
            f'<rect x="{x - half_x:.1f}" y="{y - half_y:.1f}" width="{2 * half_x:.1f}" '
            f'height="{2 * half_y:.1f}" rx="{min(half_x, half_y):.1f}" fill="none" '
        )
        rings += [
            f'{around}stroke="#fff" stroke-width="{_RING_PX:g}"/>',
            f'{around}stroke="{INK}" stroke-width="2.5"/>',
        ]
        edge = (
            min(max(spot[0], x - half_x), x + half_x),
            min(max(spot[1], y - half_y), y + half_y),
        )
        if math.dist(edge, spot) > _half_badge(label) + 12.0:
            # Far off, a line leads to its ring.
            rings.append(line(edge, spot, stroke="#fff", stroke_width=5))
            rings.append(line(edge, spot, stroke_width=2))
        badges.append(badge(*spot, label))
    return "".join(rings + badges)


def _shared(
    ringed: Sequence[OffRing], frame: Frame
) -> list[tuple[tuple[float, float, float, float], str]]:
    """Rings as middle and half sides in px, with their label; those that nearly coincide as one."""
    shapes: list[tuple[float, float, float, float]] = []
    numbers: list[list[int]] = []
    for ring in ringed:
        x0, y1 = frame.place(*ring.box_mm[:2])
        x1, y0 = frame.place(*ring.box_mm[2:])
        half_x, half_y = (max(19.0, (b - a) / 2 + 10.0) for a, b in ((x0, x1), (y0, y1)))
        shape = ((x0 + x1) / 2, (y0 + y1) / 2, half_x, half_y)
        same = next((k for k, other in enumerate(shapes) if _alike(shape, other)), None)
        if same is None:
            shapes.append(shape)
            numbers.append([ring.number])
        else:
            numbers[same].append(ring.number)
    return [(shape, told_numbers(own)) for shape, own in zip(shapes, numbers, strict=True)]


def _alike(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return all(abs(one - other) <= _SAME_RING_PX for one, other in zip(a, b, strict=True))


def _free_spot(
    middle: tuple[float, float],
    halves: tuple[float, float],
    half_badge: float,
    taken: Sequence[tuple[float, float, float]],
    frame: Frame,
) -> tuple[float, float]:
    """Return where a number hides no other, within the panel, as near to its ring as it goes."""
    (x, y), (half_x, half_y) = middle, halves
    low_x, high_x = frame.left_px + half_badge, frame.left_px + frame.width_px - half_badge
    low_y, high_y = frame.top_px + 18.0, frame.top_px + frame.height_px - 18.0
    best, best_room = (x, y), -math.inf
    for away in (6.0, 40.0, 74.0, 108.0, 142.0):
        for sx, sy in ((1, -1), (-1, -1), (1, 1), (-1, 1), (0, -1), (0, 1), (1, 0), (-1, 0)):
            spot = (
                min(max(x + sx * (half_x + away), low_x), high_x),
                min(max(y + sy * (half_y + away), low_y), high_y),
            )
            room = min((_room(spot, half_badge, other) for other in taken), default=1e9)
            if room >= 0:
                return spot
            if room > best_room:
                best, best_room = spot, room
    return best


def _room(spot: tuple[float, float], half_badge: float, other: tuple[float, float, float]) -> float:
    """Return how much is free between two numbers; below 0 they lie on each other."""
    across = abs(spot[0] - other[0]) - half_badge - other[2]
    down = abs(spot[1] - other[1]) - 2 * _HALF_BADGE_PX
    return max(across, down) - 2.0


def _half_badge(label: str) -> float:
    return max(_HALF_BADGE_PX, 8.0 + sum(3.2 if sign in ", " else 6.5 for sign in label))


def _window_marks(
    places: Sequence[CloseUp], frame: Frame, made: BaseGeometry, busy: Sequence[BaseGeometry]
) -> str:
    """Small squares where enlargements were taken; those that would cover each other share one."""
    squares: list[tuple[tuple[float, float], str]] = []
    for place, letter in zip(places, "AB", strict=False):
        at = frame.place(*place.at_mm)
        if squares and math.dist(squares[-1][0], at) < 3 * _SQUARE_PX:
            squares[-1] = (squares[-1][0], f"{squares[-1][1]}, {letter}")
        else:
            squares.append((at, letter))
    around = [shapely.Point(at).buffer(_SQUARE_PX, cap_style="square") for at, _ in squares]
    used = [*busy, *around]
    pieces = []
    for (x, y), letters in squares:
        left, base = _letters_at((x, y), letters, frame, made, used)
        used.append(_letter_box((left, base), letters))
        side = _SQUARE_PX
        corners = [(-side, -side), (side, -side), (side, side), (-side, side), (-side, -side)]
        outline = [(x + dx, y + dy) for dx, dy in corners]
        pieces += [
            line(*outline, stroke="#fff", stroke_width=7),
            line(*outline, stroke_width=3),
            text(letters, left, base, size=_LETTER_PX, weight=600, halo=True),
        ]
    return "".join(pieces)


def _letters_at(
    middle: tuple[float, float],
    letters: str,
    frame: Frame,
    made: BaseGeometry,
    used: Sequence[BaseGeometry],
) -> tuple[float, float]:
    """Return where letters beside a square hide least: of the piece, of rings and numbers."""
    (x, y), side = middle, _SQUARE_PX
    wide = text_width(letters, size=_LETTER_PX, weight=600)
    left, right, centred = x - side - 7 - wide, x + side + 7, x - wide / 2
    spots: list[tuple[float, float]] = [
        *((across, y + down) for across in (left, right) for down in (side + 6, 11, -side + 16)),
        (centred, y + side + 32),
        (centred, y - side - 10),
    ]

    return min(spots, key=lambda spot: _hidden(_letter_box(spot, letters), frame, made, used))


def _hidden(
    box: BaseGeometry, frame: Frame, made: BaseGeometry, used: Sequence[BaseGeometry]
) -> float:
    """How much a box on the picture would hide, in px^2."""
    left, top, right, bottom = box.bounds
    (x0, y0), (x1, y1) = frame.to_mm(np.array([(left, bottom), (right, top)]))
    ink = float(shapely.clip_by_rect(made, x0, y0, x1, y1).area) * frame.px_per_mm**2
    # A number that is hidden is worse than a shape.
    return ink + 4 * sum(float(shapely.intersection(box, one).area) for one in used)


def _letter_box(start: tuple[float, float], letters: str) -> BaseGeometry:
    left, base = start
    wide = text_width(letters, size=_LETTER_PX, weight=600)
    return shapely.box(left - 2, base - 25, left + wide + 2, base + 4)
