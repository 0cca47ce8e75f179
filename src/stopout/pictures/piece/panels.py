"""The panels of the preview, each a piece of SVG drawn in a frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely.geometry.base import BaseGeometry

from stopout.pictures.means.colours import material_tint, paint_tint, recess_tint
from stopout.pictures.means.drawing import GREY, INK, Frame, line, region, scale_bar, text
from stopout.pictures.piece import coats
from stopout.pictures.piece.deviations import OffRing, noticeable
from stopout.pictures.piece.marks import marks
from stopout.pictures.piece.scene import CloseUp, PreviewScene

OUTSIDE = "#9c1f14"
INSIDE = "#3b8fd0"
_FORMED = "#c4c8cb"

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
    return "".join(pieces) + marks(ringed, places, frame, scene.finished)


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
