"""Pictures about the beam: fill lines and outline, dose across lines, speed at a corner."""

from __future__ import annotations

import numpy as np
from canvas import ART, GREY, INK, OPENING, OVER, PALE, Canvas, capsules
from shapely.geometry import Point

from bench import MACHINE, SPEED_MM_S, glyph, make
from stopout.clearing import FWHM_PER_RADIUS, mark_width_mm, plan_speeds
from stopout.values import FloatArray, Moves

__all__ = ["dose_picture", "fill_picture", "speed_picture"]


def fill_picture() -> Canvas:
    """A real program: fill lines, outline pass, runs-up, travel."""
    made = make(glyph(), undercut_mm=0.06, mark_mm=0.10)
    sheet, scale = Canvas(1400, 660), 190.0
    panels = (
        ("Fill lines", "back and forth, at one constant speed", True),
        ("Outline pass", "afterwards, along the true edge", False),
    )
    moves = made.moves
    starts, ends = moves.start_mm, moves.end_mm
    on = moves.power > 0
    is_fill = np.isclose(starts[:, 1], ends[:, 1])
    last_fill = _last_fill_line(moves, is_fill & on)
    order = np.arange(len(moves))
    for number, (headline, note, wants_fill) in enumerate(panels):
        left = 40 + number * 690
        sheet.words(headline, left, 50, size=30, weight=600)
        sheet.words(note, left, 86, size=22, fill=GREY)
        frame = sheet.frame(left, 110, scale, (-0.4, 0.15, 2.9, 2.75))
        part = order <= last_fill if wants_fill else order > last_fill
        sheet.shape(
            capsules(np.stack([starts, ends], axis=1)[part & on], 0.10), frame, fill=OPENING
        )
        sheet.edge(made.target, frame, stroke=ART, stroke_width=2.2)
        for chosen, style in (
            (part & moves.rapid, {"stroke": GREY, "stroke_dasharray": "3 5"}),
            (part & ~on & ~moves.rapid, {"stroke": OVER, "stroke_dasharray": "7 4"}),
            (part & on, {"stroke": INK, "stroke_width": 2.6}),
        ):
            for k in np.flatnonzero(chosen):
                at = np.array([starts[k], ends[k]])
                if abs(at).max() < 3 and at.min() > -0.4 and (at != 0).all():
                    sheet.path(at, frame, **{"stroke_width": 1.5, **style})
    y = 635
    for x, colour, dash, label in (
        (40, INK, "none", "beam on"),
        (210, OVER, "7 4", "run-up and run-out, beam off"),
        (590, GREY, "3 5", "travel, beam off"),
    ):
        sheet.line((x, y - 8), (x + 44, y - 8), stroke=colour, stroke_dasharray=dash,
                   stroke_width=3 if colour == INK else 2)  # fmt: skip
        sheet.words(label, x + 56, y, size=22)
    sheet.bar(1360, y - 6, scale)
    return sheet


def _last_fill_line(moves: Moves, level: np.ndarray) -> int:
    """Fill comes first; it ends with the last beam-on move before the first slanting one."""
    slanting = (moves.power > 0) & ~level
    first = int(np.flatnonzero(slanting)[0])
    lifted = np.flatnonzero(~(moves.power > 0)[:first])
    return int(lifted[-1])


def dose_picture() -> Canvas:
    """Dose across parallel lines at the default spacing and at one too wide."""
    sheet = Canvas(1400, 560)
    mark = 0.10
    w = mark / FWHM_PER_RADIUS
    cases = (
        (0.075, "0.075 mm apart: what the default rule gives for a mark of 0.100 mm"),
        (0.125, "0.125 mm apart: threads of paint stay between the lines"),
    )
    for number, (spacing, label) in enumerate(cases):
        left, base = 60.0 + number * 690, 440.0
        sheet.words(label, left, 60, size=21, weight=600)
        across, up = 610 / 0.56, 130.0
        x = np.linspace(0.0, 0.56, 700)
        lines = 0.28 + spacing * np.arange(-6, 7)
        single = 2.0 * np.exp(-2 * (x[:, None] - lines) ** 2 / w**2)
        for column in single.T:
            _curve(sheet, left + x * across, base - column * up, stroke=GREY, stroke_width=1.6)
        best = single.max(axis=1)
        _curve(sheet, left + x * across, base - best * up, stroke=INK, stroke_width=3.5)
        sheet.line((left, base), (left + 610, base))
        level = base - up
        sheet.line((left, level), (left + 610, level), stroke=OVER, stroke_dasharray="9 6")
        sheet.words(
            "threshold", left + 606, level - 10, size=20, fill=OVER, anchor="end", halo=True
        )
        for middle in lines:
            low, high = max(middle - mark / 2, 0), min(middle + mark / 2, 0.56)
            if high > low:
                sheet.pieces.append(
                    f'<rect x="{left + low * across:.1f}" y="{base + 14}" '
                    f'width="{(high - low) * across:.1f}" height="20" fill="{OPENING}"/>'
                )
        start = left + 0.28 * across
        sheet.measure(
            (start, base - 2 * up - 22), (start + spacing * across, base - 2 * up - 22), "spacing"
        )
    assert abs(mark_width_mm(w, 2.0) - mark) < 1e-9
    sheet.words("Each line at twice the threshold dose clears the width of its mark (blue), which "
                "is then the full width at half maximum.", 60, 510, size=22)  # fmt: skip
    sheet.words("Grey: single lines. Black: the largest of them at each place, the only dose the "
                "plan relies on.", 60, 540, size=22, fill=GREY)  # fmt: skip
    return sheet


def speed_picture() -> Canvas:
    """Speed and mark width along a right-angle corner, with constant power and with following."""
    sheet = Canvas(1400, 620)
    at, speed = _speed_round_corner()
    dose = SPEED_MM_S / np.maximum(speed, 1e-9)
    w = 0.10 / FWHM_PER_RADIUS
    width = w * np.sqrt(2 * np.log(2.0 * dose))
    slowest = speed.min()
    left, wide, half = 110.0, 560.0, 0.45
    sheet.words("Speed along the path", 40, 50, size=30, weight=600)
    sheet.words("round a right angle; mm/s, mm from the corner", 40, 86, size=22, fill=GREY)
    base, up = 470.0, 15.0
    xs = left + (at / half + 1) / 2 * wide
    for tick in (0, 5, 10, 15, 20):
        sheet.line((left, base - tick * up), (left + wide, base - tick * up), stroke=PALE,
                   stroke_width=1.5)  # fmt: skip
        sheet.words(f"{tick}", left - 16, base - tick * up + 7, size=22, anchor="end")
    for tick in (-0.4, -0.2, 0.0, 0.2, 0.4):
        sheet.words(f"{tick:g}", left + (tick / half + 1) / 2 * wide, base + 32, size=22,
                    anchor="middle")  # fmt: skip
    _curve(sheet, xs, base - speed * up, stroke=INK, stroke_width=3.5)
    sheet.words(f"{slowest:.1f} mm/s", left + wide / 2, base - slowest * up + 28, size=22,
                anchor="middle", halo=True)  # fmt: skip
    sheet.words("What it clears", 760, 50, size=30, weight=600)
    sheet.words("the mark's width along the same path", 760, 86, size=22, fill=GREY)
    for number, (label, diameter) in enumerate(
        (("constant power", width), ("power follows the speed", np.full_like(width, 0.10)))
    ):
        frame = sheet.frame(760 + number * 310, 130, 480, (-0.45, -0.16, 0.16, 0.45))
        here = np.column_stack([np.minimum(at, 0.0), np.maximum(at, 0.0)])
        cleared = Point(0, 0).buffer(0.0)
        for point, size in zip(here, diameter, strict=True):
            cleared = cleared.union(Point(point).buffer(size / 2))
        sheet.shape(cleared, frame, fill=OPENING)
        sheet.path(np.array([[-0.45, 0], [0, 0], [0, 0.45]]), frame, stroke=INK, stroke_width=2)
        sheet.words(label, frame.left_px, 470, size=23, weight=600)
        sheet.words(
            f"{1000 * diameter.max():.0f} um wide at the corner", frame.left_px, 502, size=22
        )
    sheet.bar(1360, 560, 480)
    sheet.words("Clearing at 20 mm/s, 800 mm/s^2, cornering 0.01 mm, a mark of 0.100 mm at dose "
                "ratio 2.", 40, 590, size=22, fill=GREY)  # fmt: skip
    return sheet


def _speed_round_corner() -> tuple[FloatArray, FloatArray]:
    """Speed by the planner's own motion model, by distance from the corner."""
    points = np.array([[-2.0, 0.0], [0.0, 0.0], [0.0, 2.0]])
    moves = Moves(
        x_mm=points[:, 0],
        y_mm=points[:, 1],
        rapid=np.zeros(3, dtype=bool),
        speed_mm_s=np.full(3, SPEED_MM_S),
        power=np.full(3, 0.3),
    )
    a = MACHINE.acceleration_mm_s2
    profile = plan_speeds(moves, acceleration_mm_s2=a, cornering_mm=MACHINE.cornering_mm)
    corner = float(profile.vertex_mm_s[2])
    at = np.linspace(-0.45, 0.45, 181)
    return at, np.minimum(SPEED_MM_S, np.sqrt(corner**2 + 2 * a * np.abs(at)))


def _curve(sheet: Canvas, x: FloatArray, y: FloatArray, **style: str | float) -> None:
    sheet.line(*[(float(a), float(b)) for a, b in zip(x, y, strict=True)], **style)
