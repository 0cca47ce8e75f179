"""The panels of the preview, each a piece of SVG drawn in a frame."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.pictures.means.colours import material_tint, paint_tint, recess_tint
from stopout.pictures.means.drawing import GREY, INK, Frame, line, region, scale_bar, text
from stopout.pictures.means.fonts import text_width
from stopout.pictures.piece import coats
from stopout.pictures.piece.deviations import OffRing, noticeable
from stopout.pictures.piece.scene import CloseUp, PreviewScene

OUTSIDE = "#9c1f14"
INSIDE = "#3b8fd0"
_FORMED = "#c4c8cb"
_HALF_BADGE_PX = 16.0
# Rings whose middles and sides differ by no more than this are drawn as one.
_SAME_RING_PX = 24.0
# Half the side of the square where an enlargement was taken.
_SQUARE_PX = 15.0

DEFINITIONS = (
    '<defs><pattern id="outside" width="9" height="9" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect width="9" height="9" fill="#fff"/>'
    f'<rect width="5" height="9" fill="{OUTSIDE}"/></pattern>'
    '<pattern id="inside" width="10" height="10" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect width="10" height="10" fill="#fff"/>'
    f'<circle cx="5" cy="5" r="2.6" fill="{INSIDE}"/></pattern></defs>'
)


def as_seen(scene: PreviewScene, frame: Frame) -> str:
    """The finished piece as its reader sees it."""
    frame = replace(frame, is_mirrored=scene.is_back_worked)
    blank = region(scene.blank, frame, fill=material_tint(scene.material))
    if scene.front_view:
        seen = coats.front(scene, scene.front_view, replace(frame, is_mirrored=False))
    else:
        seen = region(scene.finished, frame, fill=recess_tint(scene.material))
    return blank + seen + _outline(scene.blank, frame) + _letter(frame, mirrored=False)


def as_worked(scene: PreviewScene, frame: Frame) -> str:
    """The piece under the laser: resist dark, openings bare, the program's origin marked."""
    if scene.coats:
        pieces = [coats.coat_as_worked(scene, scene.coats[0], frame)]
    elif scene.lit_edge:
        pieces = [
            region(scene.blank, frame, fill=material_tint(scene.material)),
            region(scene.opening, frame, fill=recess_tint(scene.material)),
        ]
    else:
        tint = paint_tint(scene.resist_colour)
        pieces = coats.cleared(scene, scene.opening, tint, frame)
    pieces += [
        _outline(scene.blank, frame),
        _letter(frame, mirrored=scene.is_back_worked),
        _origin(frame),
    ]
    if scene.is_back_worked:
        middle = frame.left_px + frame.width_px / 2
        top, bottom = frame.top_px - 16, frame.top_px + frame.height_px + 16
        pieces.append(
            line((middle, top), (middle, bottom), stroke="#fff", stroke_width=4)
            + line((middle, top), (middle, bottom), stroke=INK, stroke_dasharray="22 7 4 7")
        )
    return "".join(pieces)


def outcome(
    scene: PreviewScene, frame: Frame, ringed: Sequence[OffRing], places: Sequence[CloseUp]
) -> str:
    """What will be made, its deviations drawn large enough to see, and where the list points."""
    outside, inside = noticeable(scene.too_much), noticeable(scene.too_little)
    dark: dict[str, str | float] = {"fill": OUTSIDE, "stroke": OUTSIDE, "stroke_linejoin": "round"}
    light: dict[str, str | float] = {"fill": INSIDE, "stroke": INSIDE, "stroke_linejoin": "round"}
    pieces = [
        region(scene.blank, frame, fill="#fff"),
        region(scene.finished, frame, fill=_FORMED),
        region(scene.target, frame, fill="none", stroke=GREY, stroke_width=0.8),
        region(inside, frame, stroke_width=5, **light),
        region(scene.lost, frame, stroke_width=7, **light),
        region(inside, frame, fill="#fff", stroke="#fff", stroke_width=1.6),
        region(outside, frame, stroke_width=2, **dark),
        region(scene.widened, frame, stroke_width=6, **dark),
        _outline(scene.blank, frame),
        _letter(frame, mirrored=scene.is_back_worked),
    ]
    taken: list[tuple[float, float, float]] = []
    numbers = _numbered(ringed, frame, taken)
    rings = [shape for shape, _ in _shared(ringed, frame)]
    busy = [shapely.box(x - half, y - 16, x + half, y + 16) for x, y, half in taken]
    busy += [
        shapely.box(x - rx, y - ry, x + rx, y + ry).exterior.buffer(3) for x, y, rx, ry in rings
    ]
    return "".join(pieces) + numbers + _window_marks(places, frame, scene.finished, busy)


def enlargement(scene: PreviewScene, frame: Frame, clip: str) -> str:
    """A window of the outcome, large: artwork, opening, formed edge, what is too much or little."""
    window = _window(frame, 0.02 * frame.width_mm)
    target = _near(scene.target, window)
    pieces = [
        region(_near(scene.blank, window), frame, fill="#fff"),
        region(_near(scene.finished, window), frame, fill=_FORMED),
        _tolerance(scene, frame),
        region(
            _near(scene.too_much, window),
            frame,
            fill="url(#outside)",
            stroke=OUTSIDE,
            stroke_width=2,
        ),
        region(
            _near(scene.too_little, window),
            frame,
            fill="url(#inside)",
            stroke=INSIDE,
            stroke_width=2,
        ),
        region(
            _near(scene.opening, window),
            frame,
            fill="none",
            stroke=INK,
            stroke_width=1.6,
            stroke_dasharray="12 7",
        ),
        region(target, frame, fill="none", stroke=INK, stroke_width=3),
        _outline(_near(scene.blank, window), frame),
    ]
    box = _rectangle(frame)
    right, bottom = frame.left_px + frame.width_px, frame.top_px + frame.height_px
    bar_room = 0.3 * frame.width_px
    return (
        f'<clipPath id="{clip}"><path d="{box}"/></clipPath>'
        f'<g clip-path="url(#{clip})">{"".join(pieces)}</g>'
        f'<rect x="{right - bar_room - 130:.1f}" y="{bottom - 52:.1f}" '
        f'width="{bar_room + 130:.1f}" height="52" fill="#fff" stroke="{INK}"/>'
        + scale_bar(right - 22, bottom - 26, frame.px_per_mm, bar_room)
        + f'<path d="{box}" fill="none" stroke="{INK}" stroke-width="2"/>'
    )


def _window(frame: Frame, margin_mm: float) -> BaseGeometry:
    """What a frame shows of the piece, and a margin about it."""
    x, y = frame.x_mm, frame.y_mm
    shown = shapely.box(x, y, x + frame.width_mm, y + frame.height_mm)
    return shapely.buffer(shown, margin_mm, join_style="mitre")


def _near(shape: BaseGeometry, window: BaseGeometry) -> BaseGeometry:
    parts = shapely.get_parts(shape)
    parts = parts[shapely.intersects(parts, window)]
    return shapely.union_all(shapely.intersection(parts, window))


def _tolerance(scene: PreviewScene, frame: Frame) -> str:
    """Lines at the tolerance on both sides of the artwork's edge."""
    reach = scene.edge_tolerance_mm
    window = _window(frame, 2 * reach)
    target = _near(scene.target, window)
    if reach <= 0 or target.is_empty:
        return ""
    # The window's own sides are no edge of the artwork: they are cut off again.
    edge = shapely.intersection(shapely.boundary(target), shapely.buffer(window, -reach / 100))
    band = shapely.buffer(edge, reach, cap_style="flat")
    style: dict[str, str | float] = {"stroke_width": 1.3, "stroke_dasharray": "3 6"}
    return region(band, frame, fill="none", stroke=GREY, **style)


def legend(x: float, y: float, *, has_tolerance: bool, lit: bool = False) -> str:
    """What the marks of outcome and enlargements mean, in one row."""
    opening = "marked" if lit else "resist opening"
    entries = [
        (_swatch(fill=_FORMED), "will be made"),
        (_swatch(fill="#fff", stroke=INK, stroke_width=3), "artwork's edge"),
        (_swatch(fill="#fff", stroke=INK, stroke_dasharray="8 5"), opening),
        (_swatch(fill="url(#outside)", stroke=OUTSIDE, stroke_width=2), "too much"),
        (_swatch(fill="url(#inside)", stroke=INSIDE, stroke_width=2), "too little"),
    ]  # fmt: skip
    if has_tolerance:
        entries.append((_swatch(fill="none", stroke=GREY, stroke_dasharray="3 5"), "tolerance"))
    pieces = []
    for swatch, name in entries:
        pieces.append(f'<g transform="translate({x:.0f} {y:.0f})">{swatch}</g>')
        pieces.append(text(name, x + 58, y + 22, size=24))
        x += 58 + 12.2 * len(name) + 38
    return "".join(pieces)


def _swatch(**style: str | float) -> str:
    shown = "".join(f' {name.replace("_", "-")}="{value}"' for name, value in style.items())
    return f'<rect width="46" height="28"{shown}/>'


def _outline(blank: BaseGeometry, frame: Frame) -> str:
    return region(blank, frame, fill="none", stroke=INK, stroke_width=2)


def _rectangle(frame: Frame) -> str:
    return (
        f"M{frame.left_px:.1f},{frame.top_px:.1f}h{frame.width_px:.1f}"
        f"v{frame.height_px:.1f}h{-frame.width_px:.1f}Z"
    )


def _letter(frame: Frame, *, mirrored: bool) -> str:
    """The orientation letter, outside the blank at its upper left as the panel is drawn."""
    x = frame.left_px + frame.width_px - 2 if mirrored else frame.left_px + 2
    turn = -1 if mirrored else 1
    return (
        f'<g transform="translate({x:.1f} {frame.top_px - 14:.1f}) scale({turn} 1)">'
        + text("R", 0, 0, size=40, weight=600)
        + "</g>"
    )


def _origin(frame: Frame) -> str:
    """The program's origin with its two axes, at the blank's lower left as worked."""
    x, y = frame.left_px, frame.top_px + frame.height_px
    arm, tip = 60.0, 9.0
    return (
        line((x - 14, y + 14), (x - 14 + arm, y + 14))
        + line(
            (x - 14 + arm - tip, y + 14 - 6), (x - 14 + arm, y + 14), (x - 14 + arm - tip, y + 20)
        )
        + line((x - 14, y + 14), (x - 14, y + 14 - arm))
        + line((x - 20, y + 14 - arm + tip), (x - 14, y + 14 - arm), (x - 8, y + 14 - arm + tip))
        + text("x", x - 14 + arm + 10, y + 22, size=24)
        + text("y", x - 40, y + 14 - arm + 14, size=24)
        + text("0, 0", x - 16, y + 44, size=22, fill=GREY)
    )


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
        used.append(_letter_box(left, base, letters))
        side = _SQUARE_PX
        corners = [(-side, -side), (side, -side), (side, side), (-side, side), (-side, -side)]
        outline = [(x + dx, y + dy) for dx, dy in corners]
        pieces += [
            line(*outline, stroke="#fff", stroke_width=7),
            line(*outline, stroke_width=3),
            text(letters, left, base, size=30, weight=600, halo=True),
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
    wide = text_width(letters, size=30, weight=600)
    left, right, centred = x - side - 7 - wide, x + side + 7, x - wide / 2
    spots = [
        *((across, y + down) for across in (left, right) for down in (side + 6, 11, -side + 16)),
        (centred, y + side + 32),
        (centred, y - side - 10),
    ]

    def hidden(spot: tuple[float, float]) -> float:
        box = _letter_box(*spot, letters)
        low, high = np.array(box.bounds[:2]), np.array(box.bounds[2:])
        corner = np.array([frame.left_px, frame.top_px + frame.height_px])
        (x0, y1), (x1, y0) = (
            (at - corner) / frame.px_per_mm * (1, -1) + (frame.x_mm, frame.y_mm)
            for at in (low, high)
        )
        ink = float(shapely.clip_by_rect(made, x0, y0, x1, y1).area) * frame.px_per_mm**2
        # A number that is hidden is worse than a shape.
        return ink + 4 * sum(float(shapely.intersection(box, one).area) for one in used)

    return min(spots, key=hidden)


def _letter_box(left: float, base: float, letters: str) -> BaseGeometry:
    wide = text_width(letters, size=30, weight=600)
    return shapely.box(left - 2, base - 25, left + wide + 2, base + 4)


def _numbered(
    ringed: Sequence[OffRing], frame: Frame, taken: list[tuple[float, float, float]] | None = None
) -> str:
    """Rings with their numbers on top, each number where it hides no other; alike rings share.

    Where the numbers came to lie, and half their width, is added to `taken`.
    """
    taken = [] if taken is None else taken
    rings, badges = [], []
    for (x, y, half_x, half_y), label in _shared(ringed, frame):
        half = _half_badge(label)
        spot = _free_spot((x, y), (half_x, half_y), half, taken, frame)
        taken.append((*spot, half))
        around = (
            f'<rect x="{x - half_x:.1f}" y="{y - half_y:.1f}" width="{2 * half_x:.1f}" '
            f'height="{2 * half_y:.1f}" rx="{min(half_x, half_y):.1f}" fill="none" '
        )
        rings.append(
            f'{around}stroke="#fff" stroke-width="6"/>{around}stroke="{INK}" stroke-width="2.5"/>'
        )
        edge = (
            min(max(spot[0], x - half_x), x + half_x),
            min(max(spot[1], y - half_y), y + half_y),
        )
        if math.dist(edge, spot) > half + 12.0:
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
    return [(shape, _label(own)) for shape, own in zip(shapes, numbers, strict=True)]


def _alike(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return all(abs(one - other) <= _SAME_RING_PX for one, other in zip(a, b, strict=True))


def _label(numbers: Sequence[int]) -> str:
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


def badge(x: float, y: float, label: str) -> str:
    """A number, or several as `3–7`, on a dark ground, as the list repeats it; centred at x."""
    half = _half_badge(label)
    return (
        f'<rect x="{x - half:.1f}" y="{y - 16:.1f}" width="{2 * half:.1f}" height="32" rx="16" '
        f'fill="{INK}" stroke="#fff" stroke-width="3"/>'
        + text(label, x, y + 8, size=23, weight=600, fill="#fff", anchor="middle")
    )
