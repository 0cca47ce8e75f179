"""Pictures about the piece: walls of an etch, mirror, polarity, coats, and where it lies."""

from __future__ import annotations

import numpy as np
import shapely
from canvas import GREY, INK, METAL, OPENING, OVER, PALE, RESIST, UNDER, Canvas
from shapely.geometry import Point, Polygon, box

from bench import MACHINE
from stopout.mask import as_worked, blank_region, make_target
from stopout.program import bounds_moves

__all__ = [
    "bounds_picture",
    "coats_picture",
    "mirror_picture",
    "raised_picture",
    "walls_picture",
]


def walls_picture() -> Canvas:
    """A slot in section: opening, depth, undercut, quarter-ellipse walls."""
    sheet, scale = Canvas(1400, 560), 1700.0
    opening, depth, factor = 0.30, 0.10, 1.25
    u = depth / factor
    sheet.words("An etched slot, cut across", 40, 50, size=30, weight=600)
    sheet.words("The etch goes down by the depth d and sideways, under the resist, by the "
                "undercut u = d / etch factor.", 40, 86, size=22, fill=GREY)  # fmt: skip
    frame = sheet.frame(40, 130, scale, (-0.385, -0.17, 0.385, 0.05))
    sheet.shape(box(-0.4, -0.17, 0.4, 0).difference(_slot(opening, depth, u)), frame, fill=METAL,
                stroke=GREY, stroke_width=1.5)  # fmt: skip
    for side in (-1, 1):
        near, far = side * opening / 2, side * 0.4
        sheet.shape(box(min(near, far), 0, max(near, far), 0.02), frame, fill=RESIST)
    sheet.words("resist", *_px(frame, -0.37, 0.026), size=22)
    sheet.words("metal", *_px(frame, -0.37, -0.155), size=22)
    left, right = _px(frame, -opening / 2, 0.034), _px(frame, opening / 2, 0.034)
    sheet.measure(left, right, "opening")
    sheet.measure(_px(frame, 0, 0), _px(frame, 0, -depth), "d", x=_px(frame, 0.012, 0)[0],
                  y=_px(frame, 0, -0.045)[1], anchor="start")  # fmt: skip
    start = _px(frame, opening / 2, -0.012)
    end = _px(frame, opening / 2 + u, -0.012)
    sheet.measure(start, end, "u", y=start[1] + 32)
    wide = opening + 2 * u
    sheet.measure(_px(frame, -wide / 2, -0.128), _px(frame, wide / 2, -0.128), "finished width")
    area = opening * depth + np.pi / 2 * u * depth  # walls of a quarter ellipse
    sheet.words(
        f"Here: opening {opening:.2f} mm, depth {depth:.2f} mm, etch factor {factor:g}: undercut "
        f"{u:.2f} mm, finished width {wide:.2f} mm, section {area:.4f} mm^2.",
        40, 535, size=22,
    )  # fmt: skip
    return sheet


def _slot(opening: float, depth: float, u: float) -> Polygon:
    angle = np.linspace(0, np.pi / 2, 60)
    wall = np.column_stack([opening / 2 + u * np.cos(angle), -depth * np.sin(angle)])
    return Polygon(np.vstack([wall, wall[::-1] * [-1, 1]]))


def _px(frame: object, x: float, y: float) -> tuple[float, float]:
    return frame.place(x, y)  # type: ignore[attr-defined, no-any-return]


def _flag() -> Polygon:
    """An asymmetric sign, so that a mirror image shows: an arrow bent upwards."""
    return Polygon(
        [(8, 6), (24, 6), (24, 14), (28, 14), (22.5, 21), (17, 14), (21, 14), (21, 9), (8, 9)]
    )


def mirror_picture() -> Canvas:
    """The same artwork on the front of metal and on the back of clear plastic."""
    sheet, scale = Canvas(1400, 520), 10.4
    blank = blank_region(width_mm=40, height_mm=26, corner_radius_mm=2)
    columns = (
        ("As seen", "by the reader, either way", False, "#e6eaec"),
        ("As worked, front", "metal: the laser sees what the reader sees", False, METAL),
        ("As worked, back", "clear plastic: turned over left to right", True, "#eef3f5"),
    )
    for number, (headline, note, is_back, tint) in enumerate(columns):
        left = 40 + number * 462
        sheet.words(headline, left, 50, size=30, weight=600)
        sheet.words(note, left, 86, size=22, fill=GREY)
        frame = sheet.frame(left, 120, scale, (-0.5, -0.5, 40.5, 26.5))
        shape = as_worked(_flag(), width_mm=40, is_back_worked=is_back)
        sheet.shape(blank, frame, fill=RESIST if number else tint, stroke=INK, stroke_width=2)
        sheet.shape(shape, frame, fill=tint if number else RESIST)
        if number:
            origin = frame.place(0, 0)
            sheet.arrow(origin, frame.place(7, 0), stroke=OVER)
            sheet.arrow(origin, frame.place(0, 7), stroke=OVER)
            sheet.words("0, 0", origin[0], origin[1] + 32, size=22, fill=OVER)
        if is_back:
            top, bottom = frame.place(20, 26.5), frame.place(20, -0.5)
            sheet.line(top, bottom, stroke="#ffffff", stroke_dasharray="10 6", stroke_width=2.5)
    sheet.words("Coordinates in programs and in plan.json are always as worked: from the lower "
                "left corner under the laser.", 40, 480, size=22)  # fmt: skip
    return sheet


def raised_picture() -> Canvas:
    """The two polarities of one artwork."""
    sheet, scale = Canvas(1400, 470), 10.4
    blank = blank_region(width_mm=40, height_mm=26, corner_radius_mm=2, holes=[((4.5, 21.5), 3.0)])
    panels = (
        ("Artwork", "dark on light", None),
        ('dark = "recessed"', "the dark is etched", False),
        ('dark = "raised", field = "2 mm"', "the field around the dark is etched", True),
    )
    for number, (headline, note, is_raised) in enumerate(panels):
        left = 40 + number * 462
        sheet.words(headline, left, 50, size=27, weight=600)
        sheet.words(note, left, 86, size=22, fill=GREY)
        frame = sheet.frame(left, 120, scale, (-0.5, -0.5, 40.5, 26.5))
        if is_raised is None:
            sheet.shape(box(0, 0, 40, 26), frame, fill="#ffffff", stroke=PALE, stroke_width=2)
            sheet.shape(_flag(), frame, fill=RESIST)
            continue
        field = 2.0 if is_raised else 0.0
        target = make_target(_flag(), blank, is_raised=is_raised, field_mm=field)
        sheet.shape(blank, frame, fill=METAL, stroke=INK, stroke_width=2)
        sheet.shape(target, frame, fill="#565b60")
    sheet.words("Dark grey: recessed. The field keeps its margin to the blank's edge and to holes.",
                40, 440, size=22)  # fmt: skip
    return sheet


def coats_picture() -> Canvas:
    """A sign in section, from the viewer backwards."""
    sheet = Canvas(1400, 570)
    sheet.words("A sign behind clear plastic, cut across", 40, 50, size=30, weight=600)
    sheet.words("Thicknesses of paint are drawn far too large.", 40, 86, size=22, fill=GREY)
    left, wide, top = 60.0, 860.0, 180.0
    plastic, coat = 130.0, 46.0
    windows = ((0.18, 0.30), (0.44, 0.72))
    black, ivory = "#26282b", "#efe6cb"
    _bar(sheet, left, top, wide, plastic, "#eef3f5")
    _bar(sheet, left, top + plastic, wide, coat, black)
    _bar(sheet, left, top + plastic + coat, wide, coat, ivory)
    for a, b in windows:
        x, width = left + a * wide, (b - a) * wide
        _bar(sheet, x, top + plastic, width, coat, ivory, edge=False)
        for k in (0.3, 0.7):
            sheet.arrow(
                (x + k * width, top + plastic - 12), (x + k * width, top - 34), stroke=UNDER
            )
    sheet.words("the reader looks from here and sees ivory lettering on black", left, top - 46,
                size=22)  # fmt: skip
    label = left + wide + 40
    sheet.words("clear plastic", label, top + plastic / 2, size=24, weight=600)
    sheet.words("its front keeps the film", label, top + plastic / 2 + 30, size=22, fill=GREY)
    sheet.words("coat 1, black", label, top + plastic + 20, size=24, weight=600)
    sheet.words("cleared where a later coat shows", label, top + plastic + 44, size=22, fill=GREY)
    sheet.words("coat 2, ivory", label, top + plastic + coat + 32, size=24, weight=600)
    sheet.words("sprayed over the windows; not cleared", label, top + plastic + coat + 58, size=22,
                fill=GREY)  # fmt: skip
    y = top + plastic + 2 * coat + 92
    for k in (0.24, 0.58):
        sheet.arrow((left + k * wide, y), (left + k * wide, y - 74), stroke=OVER)
    sheet.words("the laser clears coat 1 from the back, before coat 2 goes on", left, y + 32,
                size=22, fill=OVER)  # fmt: skip
    return sheet


def _bar(
    sheet: Canvas, x: float, y: float, width: float, height: float, fill: str, *, edge: bool = True
) -> None:
    stroke = f' stroke="{GREY}" stroke-width="1.5"' if edge else ""
    sheet.pieces.append(
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" '
        f'fill="{fill}"{stroke}/>'
    )


def bounds_picture() -> Canvas:
    """The two boxes of bounds.nc, on a blank on the bed."""
    sheet, scale = Canvas(1400, 640), 6.6
    at, blank = np.array([30.0, 30.0]), blank_region(
        width_mm=80, height_mm=40, corner_radius_mm=3
    )  # fmt: skip
    motion, art = (1.2, 0.0, 77.5, 36.0), (4.6, 4.4, 75.4, 35.4)
    moves = bounds_moves(motion, art, machine=MACHINE, speed_mm_s=20.0)
    frame = sheet.frame(40, 110, scale, (-2.0, -2.0, 135.0, 74.0))
    sheet.words("Where things lie", 40, 50, size=30, weight=600)
    sheet.words("The lower left part of the bed, from above.", 40, 86, size=22, fill=GREY)
    bed = frame.place(0, 0)
    for end in (frame.place(135, 0), frame.place(0, 74)):
        sheet.arrow(bed, end)
    sheet.words("corner of the bed", bed[0] + 12, bed[1] - 14, size=22)
    sheet.shape(shapely.transform(blank, lambda xy: xy + at), frame, fill=RESIST, stroke=INK)
    points = np.column_stack([moves.x_mm, moves.y_mm]) + at
    n = 5
    sheet.path(points[:n], frame, stroke=OPENING, stroke_width=3, stroke_dasharray="10 6")
    sheet.path(points[n + 1 : n + 6], frame, stroke="#ffffff", stroke_width=3)
    corner = frame.place(*at)
    sheet.shape(Point(at).buffer(0.8), frame, fill=OVER)
    sheet.line(bed, (corner[0], bed[1]), corner, stroke=OVER, stroke_width=2)
    sheet.words('blank_at = ["30 mm", "30 mm"]', corner[0] + 10, bed[1] - 60, size=22, fill=OVER,
                halo=True)  # fmt: skip
    x = 960
    for y, colour, dash, head, note in (
        (190, OPENING, "10 6", "first box", "all motion with its runs-up; beam off"),
        (290, "#ffffff", "none", "second box", "the artwork; beam off or the pointer"),
        (390, OVER, "none", "program origin", "the blank's corner, X0 Y0"),
    ):
        if colour != OVER:
            _bar(sheet, x - 8, y - 24, 60, 32, RESIST)
        sheet.line((x, y - 8), (x + 44, y - 8), stroke=colour, stroke_width=3,
                   stroke_dasharray=dash)  # fmt: skip
        sheet.words(head, x + 60, y, size=24, weight=600)
        sheet.words(note, x + 60, y + 32, size=20, fill=GREY)
    return sheet
