"""Pictures about shape: the sweep, corners, thin strokes."""

from __future__ import annotations

import math

import numpy as np
import shapely
from canvas import (
    ART,
    FINISHED,
    GREY,
    INK,
    OPENING,
    OVER,
    TOO_LITTLE,
    TOO_MUCH,
    UNDER,
    Canvas,
    Frame,
)
from shapely.geometry import Point, Polygon, box

from bench import Made, glyph, make

__all__ = ["corners_picture", "sweep_picture", "thin_strokes_picture"]

_DASH = "9 6"


def sweep_picture() -> Canvas:
    """Beam path, opening, finished region: three steps of one small shape."""
    made = make(glyph(), undercut_mm=0.10, mark_mm=0.12)
    sheet, scale = Canvas(1400, 700), 165.0
    steps = (
        ("1  The beam's path", "its centre line, with the mark", "drawn at a few places"),
        ("2  The opening", "what the mark has swept:", "the resist is gone here"),
        ("3  The finished recess", "the etch has crept u under", "the resist on every edge"),
    )
    for number, (headline, *notes) in enumerate(steps):
        left = 40 + number * 460
        sheet.words(headline, left, 50, size=30, weight=600)
        sheet.lines_of_words(list(notes), left, 86, fill=GREY)
        frame = sheet.frame(left, 140, scale, (-0.1, 0.15, 2.5, 2.75))
        if number == 0:
            _beam_path(sheet, made, frame)
        else:
            if number == 2:
                sheet.shape(made.finished, frame, fill=FINISHED, stroke=GREY, stroke_width=1.5)
            sheet.shape(made.opening, frame, fill=OPENING)
        sheet.edge(made.target, frame, stroke=ART, stroke_width=2.5)
    sheet.words("Black line: the artwork's edge.", 40, 625, size=22)
    sheet.words("Blue: the opening in the resist.", 500, 625, size=22)
    sheet.words("Grey: recessed under the resist.", 960, 625, size=22)
    sheet.words("Corners left white are lost.", 960, 655, size=22)
    sheet.bar(1360, 570, scale)
    return sheet


def _beam_path(sheet: Canvas, made: Made, frame: Frame) -> None:
    on = made.moves.power > 0
    ends = np.stack([made.moves.start_mm[on], made.moves.end_mm[on]], axis=1)
    for start, end in ends:
        sheet.path(np.array([start, end]), frame, stroke=UNDER, stroke_width=1.6)
    for index in np.linspace(3, len(ends) - 1, 7).astype(int):
        sheet.shape(Point(ends[index, 0]).buffer(0.06), frame, fill=OVER, fill_opacity=0.75)


def corners_picture() -> Canvas:
    """Four corners and how far their tips fall short, without and with a tolerance."""
    sheet = Canvas(1400, 800)
    sheet.words("How far a sharp corner is finished", 40, 50, size=30, weight=600)
    sheet.words(
        "Reach r = 0.11 mm. Dotted: not made. Striped: made outside the artwork. Measured on the "
        "predicted piece.",
        40, 86, size=22, fill=GREY,
    )  # fmt: skip
    scale = 540.0
    for column, full in enumerate((30, 60, 90, 120)):
        left = 40 + column * 335
        sheet.words(f"{full}°", left, 140, size=30, weight=600)
        for row, tolerance in enumerate((0.0, 0.05)):
            target = _corner(math.radians(full / 2))
            made = make(target, undercut_mm=0.06, mark_mm=0.10, edge_tolerance_mm=tolerance)
            frame = sheet.frame(left, 160 + row * 320, scale, (-0.44, -0.18, 0.12, 0.18))
            _compared(sheet, made, frame)
            y = frame.top_px + frame.height_px + 34
            for number, label in enumerate(_errors(made)):
                sheet.words(label, left, y + 30 * number, size=22)
    for row, label in enumerate(('edge_tolerance = "0 mm"', 'edge_tolerance = "0.05 mm"')):
        sheet.words(label, 1360, 140 + row * 320, size=22, weight=600, anchor="end", halo=True)
    sheet.bar(1360, 780, scale)
    return sheet


def _errors(made: Made) -> list[str]:
    """How far the tip at the origin falls short, and how far the piece goes beyond the sides."""
    short = made.finished.distance(Point(0, 0))
    beyond = made.finished.difference(made.target).intersection(box(-0.44, -0.3, 0.3, 0.3))
    points = shapely.points(shapely.get_coordinates(beyond))
    outside = float(shapely.distance(points, made.target).max()) if len(points) else 0.0
    lines = [f"{1000 * short:.0f} um short = {short / 0.11:.2f} r"]
    return lines if outside < 0.001 else [*lines, f"{1000 * outside:.0f} um outside"]


def _corner(half: float) -> Polygon:
    """A convex corner with its tip at the origin, opening to the left."""
    far = 3.0
    return Polygon(
        [
            (0, 0),
            (-far * math.cos(half), far * math.sin(half)),
            (-far * math.cos(half) - 1, 0),
            (-far * math.cos(half), -far * math.sin(half)),
        ]
    )


def thin_strokes_picture() -> Canvas:
    """Three strokes under three settings: what is made of each."""
    sheet, scale = Canvas(1400, 690), 300.0
    sheet.words("Strokes and what becomes of them", 40, 50, size=30, weight=600)
    sheet.words("Reach 0.11 mm: nothing narrower than 0.22 mm can be made without going outside "
                "the artwork.", 40, 86, size=22, fill=GREY)  # fmt: skip
    widths = (0.30, 0.16, 0.06)
    for column, width in enumerate(widths):
        sheet.words(f"drawn {width:.2f} mm", 440 + column * 320, 136, size=22)
    rows = (
        ("leave-out", 0.0, ('too_thin = "leave-out"', 'edge_tolerance = "0 mm"')),
        ("leave-out", 0.05, ('too_thin = "leave-out"', 'edge_tolerance = "0.05 mm"')),
        ("widen", 0.05, ('too_thin = "widen"', 'edge_tolerance = "0.05 mm"')),
    )
    for row, (policy, tolerance, labels) in enumerate(rows):
        top = 160 + row * 160
        for line, label in enumerate(labels):
            sheet.words(label, 40, top + 58 + 30 * line, size=22, weight=600)
        for column, width in enumerate(widths):
            target = shapely.box(0, -width / 2, 0.9, width / 2)
            made = make(
                target, undercut_mm=0.06, mark_mm=0.10, too_thin=policy, edge_tolerance_mm=tolerance
            )
            frame = sheet.frame(425 + column * 320, top, scale, (-0.05, -0.22, 0.95, 0.22))
            _compared(sheet, made, frame)
    _legend(sheet, 665)
    sheet.bar(1360, 659, scale)
    return sheet


def _compared(sheet: Canvas, made: Made, frame: Frame) -> None:
    """What is made, held against the artwork."""
    target = made.target
    sheet.shape(made.finished, frame, fill=FINISHED)
    sheet.shape(made.finished.difference(target), frame, fill=TOO_MUCH)
    sheet.shape(target.difference(made.finished), frame, fill=TOO_LITTLE)
    sheet.edge(made.opening, frame, stroke=GREY, stroke_width=1.6, stroke_dasharray=_DASH)
    sheet.edge(target, frame, stroke=ART, stroke_width=2.2)


def _legend(sheet: Canvas, y: float) -> None:
    for x, colour, label in (
        (40, FINISHED, "will be made"),
        (230, TOO_MUCH, "outside the artwork"),
        (480, TOO_LITTLE, "artwork that is not made"),
    ):
        sheet.pieces.append(f'<rect x="{x}" y="{y - 18}" width="28" height="18" fill="{colour}"/>')
        sheet.words(label, x + 38, y - 1, size=22)
    sheet.line((800, y - 9), (840, y - 9), stroke=GREY, stroke_width=1.6, stroke_dasharray=_DASH)
    sheet.words("opening in the resist", 850, y - 1, size=22, fill=INK)
