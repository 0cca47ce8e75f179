"""The picture of a coupon: as worked, what each part is, and the table of its steps."""

from __future__ import annotations

from collections.abc import Sequence

from stopout.coupons.design_clearing import expected_words, told_lines
from stopout.pictures.means.colours import material_tint, paint_tint, recess_tint
from stopout.pictures.means.drawing import (
    GREY,
    INK,
    PALE,
    Frame,
    line,
    picture,
    region,
    scale_bar,
    text,
)
from stopout.pictures.means.fonts import text_width, wrapped
from stopout.pictures.means.render import drawn_png
from stopout.planning.coupon.road import CouponPlan
from stopout.values import Level
from stopout.wording import begun

_WIDTH_PX = 2400
_MARGIN = 80.0
_RIGHT = _WIDTH_PX - _MARGIN
_ROW = 36.0
_COLUMNS = 3
# Tints whose luma (of 255) differs by less print alike: cleared places are then shown dark.
_ALIKE = 60.0
_STOP = "#9b2423"


def coupon_png(coupon: CouponPlan) -> bytes:
    """Render a coupon's picture as a PNG, 2400 pixels wide and as high as its contents need.

    Parameters
    ----------
    coupon : CouponPlan
        The coupon.

    Returns
    -------
    bytes
        A PNG; the same coupon gives the same bytes.
    """
    return drawn_png(coupon_svg(coupon))


def coupon_svg(coupon: CouponPlan) -> str:
    """The picture as SVG text whose fonts and pixel size `coupon_png` supplies."""
    pieces: list[str] = []
    y = _header(pieces, coupon)
    y = _panel(pieces, coupon, y)
    alike: dict[str, list[str]] = {}
    for name, _ in coupon.parts:
        alike.setdefault(coupon.named(name), []).append(name)
    y = _list(pieces, [f"{', '.join(names)}: {words}" for words, names in alike.items()], y + 20)
    heads, rows = _steps(coupon)
    y = _tables(pieces, heads, rows, y + 30)
    y = _findings(pieces, coupon, y + 30)
    return picture(_WIDTH_PX, round(y + _MARGIN / 2), pieces)


def _header(pieces: list[str], coupon: CouponPlan) -> float:
    plan, layout = coupon.plan, coupon.layout
    kind = "Clearing coupon" if layout.kind == "clearing" else "Etch coupon"
    pieces.append(text(f"{kind} for {plan.job.name}", _MARGIN, 118, size=54, weight=600))
    if plan.is_stopped:
        pieces.append(
            text(
                "STOP: no program was written",
                _RIGHT,
                118,
                size=54,
                weight=600,
                fill=_STOP,
                anchor="end",
            )
        )
    said = [
        f"{plan.material.name}, {layout.width_mm:g} x {layout.height_mm:g} mm",
        f"{plan.resists[0].name}, {plan.job.coats[0].colour}",
        f"coupon {layout.identity.coupon_sha256[:12]}",
    ]
    pieces.append(text("  ·  ".join(said), _MARGIN, 164, size=28, fill=GREY))
    pieces.append(line((_MARGIN, 192), (_RIGHT, 192), stroke_width=3))
    return 240.0


def _panel(pieces: list[str], coupon: CouponPlan, y: float) -> float:
    """The coupon as worked, as large as it goes, with the numbers of its parts' boxes."""
    plan = coupon.plan
    paint, bare = paint_tint(plan.job.coats[0].colour), material_tint(plan.job.blank.material)
    if is_light := _alike(paint, bare):
        bare = recess_tint(plan.job.blank.material)
    note = (
        f"The painted face as the laser and the scanner see it. {'Dark' if is_light else 'Light'}: "
        "cleared, as predicted from the program. The large disc lies at the lower left. "
    )
    if plan.job.blank.is_back_worked:
        note += "Lettering reads right on the painted back; through the front it is mirrored."
    pieces.append(text("As worked", _MARGIN, y + 26, size=34, weight=600))
    rows = wrapped(note, width=_RIGHT - _MARGIN, size=25)
    for k, row in enumerate(rows):
        pieces.append(text(row, _MARGIN, y + 62 + 32 * k, size=25, fill=GREY))
    top = y + 62 + 32 * len(rows) + 20
    width, height = coupon.layout.width_mm, coupon.layout.height_mm
    px_per_mm = min((_RIGHT - _MARGIN) / width, 1300.0 / height)
    frame = Frame(
        left_px=_MARGIN, top_px=top, px_per_mm=px_per_mm, width_mm=width, height_mm=height
    )
    pieces.append(region(plan.face, frame, fill=paint, stroke=INK, stroke_width=2))
    pieces.append(region(plan.coats[0].opening, frame, fill=bare))
    bottom = top + frame.height_px
    pieces.append(scale_bar(_MARGIN + frame.width_px, bottom + 40, px_per_mm, frame.width_px / 5))
    return bottom + 70


def _alike(one: str, other: str) -> bool:
    """Tell whether two tints `#rrggbb` would print alike in grey, by luma (ITU-R BT.709)."""
    first, second = (
        sum(w * int(tint[i : i + 2], 16) for w, i in ((0.2126, 1), (0.7152, 3), (0.0722, 5)))
        for tint in (one, other)
    )
    return abs(first - second) < _ALIKE


def _list(pieces: list[str], entries: Sequence[str], y: float) -> float:
    """Short entries in columns."""
    width = (_RIGHT - _MARGIN) / _COLUMNS
    per_column = -(-len(entries) // _COLUMNS)
    for k, entry in enumerate(entries):
        column, row = divmod(k, per_column)
        pieces.append(text(entry, _MARGIN + column * width, y + 26 + _ROW * row))
    return y + 26 + _ROW * per_column


def _steps(coupon: CouponPlan) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """The table of what is stepped: column names and rows."""
    layout = coupon.layout
    if layout.kind == "etch":
        rows = [(slot.id, "slot", f"{1000 * slot.opening_mm:.0f} um") for slot in layout.slots]
        rows += [(land.id, "land", f"{1000 * land.land_mm:.0f} um") for land in layout.lands]
        rows += [
            (pit.id, "pit", f"{pit.box_mm[2] - pit.box_mm[0]:g} mm wide") for pit in layout.pits
        ]
        return ("id", "what", "in the resist"), list(rows)
    return ("line", "power", "line dose, J/mm", "expected"), [
        (
            one.id + (f" ({one.passes} passes)" if one.passes > 1 else ""),
            f"{100 * one.power_fraction:.1f} % at {one.speed_mm_s:g} mm/s",
            f"{one.line_dose_j_per_mm:.4g}",
            expected_words(one, coupon.settings),
        )
        for one in told_lines(layout.lines, coupon.settings)
    ]


def _tables(
    pieces: list[str], heads: Sequence[str], rows: Sequence[Sequence[str]], y: float
) -> float:
    """The same table broken into columns side by side, each with its head."""
    n_tables = 2
    per_table = -(-len(rows) // n_tables)
    room = (_RIGHT - _MARGIN - 80.0) / n_tables
    for k in range(n_tables):
        left = _MARGIN + k * (room + 80.0)
        some = [heads, *rows[k * per_table : (k + 1) * per_table]]
        widest = [
            max(text_width(row[j], size=26, weight=600) for row in some) for j in range(len(heads))
        ]
        spare = (room - sum(widest)) / max(len(heads) - 1, 1)
        for r, row in enumerate(some):
            x = left
            for j, cell in enumerate(row):
                weight = 600 if r == 0 else 400
                pieces.append(text(cell, x, y + 26 + _ROW * r, weight=weight))
                x += widest[j] + spare
        pieces.append(line((left, y + 38), (left + room, y + 38), stroke=PALE))
    return y + 26 + _ROW * (per_table + 1)


def _findings(pieces: list[str], coupon: CouponPlan, y: float) -> float:
    """What there is to say, in full."""
    pieces.append(line((_MARGIN, y), (_RIGHT, y), stroke_width=3))
    y += 48
    if not coupon.plan.findings:
        pieces.append(text("Nothing to report.", _MARGIN, y))
        return y
    for finding in coupon.plan.findings:
        level = "STOP" if finding.level is Level.STOP else str(finding.level)
        pieces.append(text(level, _MARGIN, y, weight=600))
        remedy = f" {finding.remedy}" if finding.remedy else ""
        message = f"{begun(finding.message)}.{remedy}"
        for row in wrapped(message, width=_RIGHT - _MARGIN - 150, size=26):
            pieces.append(text(row, _MARGIN + 150, y))
            y += _ROW
        y += 10
    return y
