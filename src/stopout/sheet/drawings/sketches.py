"""Labelled drawings for the sheet: the section through the coats, and the bath as it is set up."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from stopout.etching import EtchPlan
from stopout.job.record import Coat
from stopout.pictures.means.colours import material_tint, paint_tint
from stopout.planning import Plan
from stopout.planning.signs.light import coat_name
from stopout.sheet.model import Sketch
from stopout.sheet.words import capital, length, significant
from stopout.wording import measurable

_WIDTH_MM = 86.0
# Of a label beside a section; a longer one takes two lines.
_LABEL_LETTERS = 15
_LINE = 'stroke="#000" stroke-width="0.3" fill="none"'
_THICK = 'stroke="#000" stroke-width="0.8" fill="none"'
_THIN = 'stroke="#000" stroke-width="0.2" fill="none"'


def svg(width: float, height: float, body: str) -> str:
    """A drawing of so many mm, one unit 1 mm, y down."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">{body}</svg>'
    )


def sketch(title: str, words: str, alt: str, *, size_mm: tuple[float, float], body: str) -> Sketch:
    """A sketch that is drawn at its own size."""
    width, height = size_mm
    drawn = svg(width, height, body)
    return Sketch(title=title, words=words, svg=drawn, width_mm=width, height_mm=height, alt=alt)


def label(text: str, x: float, y: float, *, anchor: str = "start", tint: str = "#000") -> str:
    """A label of 8.5 points."""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-family="Barlow, sans-serif" font-size="3" '
        f'fill="{tint}" text-anchor="{anchor}">{escape(measurable(text))}</text>'
    )


def _box(x: float, y: float, w: float, h: float, fill: str) -> str:
    return (
        f'<rect x="{x:.2f}" y="{y:.2f}" width="{w:.2f}" height="{h:.2f}" fill="{fill}" '
        'stroke="#000" stroke-width="0.2"/>'
    )


def _span(x: float, y0: float, y1: float) -> str:
    """A dimension line up and down, with ticks."""
    ticks = "".join(f"M{x - 0.9:.2f} {y:.2f}H{x + 0.9:.2f}" for y in (y0, y1))
    return f'<path d="M{x:.2f} {y0:.2f}V{y1:.2f}{ticks}" {_THIN}/>'


def _across(x0: float, x1: float, y: float) -> str:
    ticks = "".join(f"M{x:.2f} {y - 0.9:.2f}V{y + 0.9:.2f}" for x in (x0, x1))
    return f'<path d="M{x0:.2f} {y:.2f}H{x1:.2f}{ticks}" {_THIN}/>'


def _break(x0: float, x1: float, y: float) -> str:
    """A zigzag that says: left out here, not to scale."""
    n = 14
    step = (x1 - x0) / n
    moves = "".join(f"l{step:.2f} {1.6 if k % 2 else -1.6:g}" for k in range(n))
    return f'<path d="M{x0:.2f} {y:.2f}{moves}" {_LINE}/>'


def _on(tint: str) -> str:
    """Black or white, whichever stands out on a tint."""
    red, green, blue = (int(tint[i : i + 2], 16) for i in (1, 3, 5))
    return "#000" if 0.2126 * red + 0.7152 * green + 0.0722 * blue > 120 else "#fff"


def coat_sketch(plan: Plan) -> Sketch:
    """A section through the coats, to scale in thickness; the blank itself is broken."""
    return _sign_section(plan) if plan.etch is None else _plate_section(plan)


def _plate_section(plan: Plan) -> Sketch:
    """The resist with an opening, and the recess under it with its undercut."""
    etch = plan.etch
    if etch is None:
        raise ValueError("a plate's section needs an etch")
    film = plan.resists[0].film_um(plan.job.coats[0].thickness_um)
    depth, under = 1000 * etch.depth_mm, 1000 * etch.undercut_mm
    scale = min(22.0 / (depth + film), 17.0 / max(under, 1.0))
    left, right, top = 1.0, 62.0, 10.0
    surface = top + film * scale
    floor, foot = surface + depth * scale, surface + depth * scale + 9.0
    middle = (left + right) / 2
    half = min(1000 * plan.coats[0].mask.narrowest_opening_mm * scale / 2, 13.0)
    x0, x1, u = middle - half, middle + half, under * scale
    metal, paint = material_tint(plan.job.blank.material), paint_tint(plan.job.coats[0].colour)
    recess = (
        f"M{x0 - u:.2f} {surface:.2f}C{x0 - u:.2f} {surface + 0.55 * depth * scale:.2f} "
        f"{x0 - 0.45 * u:.2f} {floor:.2f} {x0:.2f} {floor:.2f}H{x1:.2f}"
        f"C{x1 + 0.45 * u:.2f} {floor:.2f} {x1 + u:.2f} {surface + 0.55 * depth * scale:.2f} "
        f"{x1 + u:.2f} {surface:.2f}Z"
    )
    body = "".join(
        [
            _box(left, surface, right - left, foot - surface, metal),
            f'<path d="{recess}" fill="#fff" stroke="#000" stroke-width="0.3"/>',
            _box(left, top, x0 - left, film * scale, paint),
            _box(x1, top, right - x1, film * scale, paint),
            f'<rect x="{left - 0.5:g}" y="{foot - 2.4:.2f}" width="{right - left + 1:g}" '
            'height="3.4" fill="#fff"/>',
            _break(left, right, foot - 2.0),
            _across(x0, x1, top - 2.0),
            label("opening", middle, top - 3.6, anchor="middle"),
            _across(x0 - u, x0, surface + 1.8),
            label("undercut", x0 - u / 2, surface + 5.4, anchor="middle") if u > 13 else "",
            _span(right + 2.5, top, surface),
            label(f"resist {film:g} µm", right + 4.5, (top + surface) / 2 + 1.1),
            _span(right + 2.5, surface, floor),
            label(f"depth {depth:.0f} µm", right + 4.5, (surface + floor) / 2 + 1.1),
            label(f"{plan.material.name}", right + 2.0, foot - 2.2),
            label(f"{length(plan.job.blank.thickness_mm)}, broken", right + 2.0, foot + 1.6),
        ]
    )
    said = f"undercut {under:.0f} µm per edge, under the resist's rim"
    return sketch(
        "Section through an opening",
        f"To scale: 1\u00a0mm here is {significant(1 / scale, 2)}\u00a0µm, up and across; "
        f"{said}. The same resist covers the back and the edges.",
        f"Section: resist {film:g} µm thick with an opening, recess {depth:.0f} µm deep "
        f"below it, {said}",
        size_mm=(_WIDTH_MM, foot + 3.0),
        body=body,
    )


def _sign_section(plan: Plan) -> Sketch:
    """Plastic above, coats below it; in column k all coats before k are cleared away."""
    coats = plan.job.coats
    films = [
        0.0 if coat.is_window else resist.film_um(coat.thickness_um)
        for coat, resist in zip(coats, plan.resists, strict=True)
    ]
    called = [coat_name(coat, resist) for coat, resist in zip(coats, plan.resists, strict=True)]
    scale = min(9.0 / max(films), 26.0 / sum(films))
    left, right, top = 1.0, 62.0, 7.0
    back = top + 11.0
    step = (right - left) / len(coats)
    pieces = [
        label("the reader looks from here: the front", (left + right) / 2, 3.0, anchor="middle"),
        f'<path d="M{(left + right) / 2:.2f} 3.8V6.4m-1.2 -1.4l1.2 1.4l1.2 -1.4" {_LINE}/>',
        _box(left, top, right - left, back - top, material_tint(plan.job.blank.material)),
        f'<rect x="{left - 0.5:g}" y="{top + 2.6:g}" width="{right - left + 1:g}" height="3.6" '
        'fill="#fff"/>',
        _break(left, right, top + 3.2),
        _break(left, right, top + 6.2),
        label(f"{length(plan.job.blank.thickness_mm)},", right + 2, top + 3.4),
        label("broken", right + 2, top + 7.0),
    ]
    columns, lowest = _columns(coats, [film * scale for film in films], called, (left, back), step)
    names_at, y = _names(coats, films, called, (right + 2, back + 3.0))
    pieces += [*columns, *names_at]
    height = max(lowest, y - 4.2) + 3.0
    names = ", ".join(f"{k} {name}" for k, name in enumerate(called, start=1))
    return sketch(
        "Section through the sign",
        "Paint to scale in thickness: 1\u00a0mm here is "
        f"{significant(1 / scale, 2)}\u00a0µm. "
        "The reader sees, at each place, the coat that touches the plastic.",
        f"Section: the clear sheet above, the coats behind it in order: {names}",
        size_mm=(_WIDTH_MM, height),
        body="".join(pieces),
    )


def _columns(
    coats: Sequence[Coat],
    heights_mm: Sequence[float],
    called: Sequence[str],
    at_mm: tuple[float, float],
    step_mm: float,
) -> tuple[list[str], float]:
    """The coats left in each column, and how far down they reach."""
    pieces, lowest = list[str](), at_mm[1]
    for column in range(len(coats)):
        x, y = at_mm[0] + column * step_mm, at_mm[1]
        for number in range(column, len(coats)):
            height, tint = heights_mm[number], paint_tint(called[number])
            if not height or (column and coats[column].is_window):
                continue
            pieces.append(_box(x, y, step_mm, height, tint))
            middle = y + height / 2 + 1.1
            pieces.append(label(f"{number + 1}", x + step_mm / 2, middle, anchor="middle",
                                tint=_on(tint)))  # fmt: skip
            y += height
            lowest = max(lowest, y)
        if coats[column].is_window:
            pieces.append(label("light", x + step_mm / 2, at_mm[1] + 4.0, anchor="middle"))
    return pieces, lowest


def _names(
    coats: Sequence[Coat],
    films_um: Sequence[float],
    called: Sequence[str],
    at_mm: tuple[float, float],
) -> tuple[list[str], float]:
    """The coats' names beside the section, and where the next would stand."""
    pieces, (x, y) = list[str](), at_mm
    for number, (coat, film, name) in enumerate(zip(coats, films_um, called, strict=True), start=1):
        of = "open" if coat.is_window else f"{film:g} µm"
        if len(f"{name}, {of}") > _LABEL_LETTERS:
            pieces.append(label(f"{number} {name},", x, y))
            y += 4.2
            pieces.append(label(f"   {of}", x, y))
        else:
            pieces.append(label(f"{number} {name}, {of}", x, y))
        y += 4.2
    return pieces, y


def bath_sketch(plan: Plan, *, tray_mm: tuple[float, float], bath_mm: float) -> Sketch:
    """The tray with its bath, as it is set up before the piece goes in.

    Parameters
    ----------
    plan : Plan
        With an etch.
    tray_mm : tuple of float
        Floor of the tray [mm].
    bath_mm : float
        How deep the bath stands [mm].
    """
    etch = plan.etch
    if etch is None:
        raise ValueError("a bath needs an etch")
    gassing = etch.gas_l > 0
    upright = etch.pour.hangs
    said = _how_it_lies(plan, etch)
    gas = f"{etch.gas} leaves: no lid, no flame, no switch above"
    cover = gas if gassing else "lid laid on loosely against splashes, never shut"
    words = said.split(", ")
    vessel = "etching tank" if upright else "etching tray"
    parts = [
        *_trays(),
        *(_facing() if etch.electro is not None else _hanging() if upright else _lying()),
        *(_gas_leaves() if gassing else _loose_lid()),
        label(cover, 60, 3.4, anchor="middle"),
        _lead(42, 19, 30, 19),
        label("thermometer", 29, 19.0, anchor="end"),
        label(f"{etch.temperature_degc:g} °C", 29, 22.8, anchor="end"),
        _lead(26, 36, 22, 36),
        label("larger tray", 21, 35.6, anchor="end"),
        label("for spills", 21, 39.4, anchor="end"),
        _lead(*_piece_at(etch), 96, 31),
        label(words[0], 97, 31.4),
        label(words[1], 97, 35.2),
        _span(81.5, _LEVEL, _FLOOR),
        _lead(81.5, 24, 96, 22.5),
        label(f"bath {bath_mm:.0f} mm", 97, 23.4),
        f'<path d="M88 12.5H95m-1.8 -1.4l1.8 1.4l-1.8 1.4" {_LINE}/>',
        label("extraction", 97, 12.2),
        label("at the rim", 97, 15.8),
        label(
            f"{vessel}, plastic, floor {tray_mm[0]:.0f} × {tray_mm[1]:.0f} mm or more",
            60,
            48.5,
            anchor="middle",
        ),
    ]
    return sketch(
        "The bath as it stands",
        f"Not to scale. {capital(cover)}. Thermometer in the bath, {said}, extraction at "
        "the rim, a larger tray below for spills. Running water and eyewash within reach, the "
        "still rinses beside it, tongs and timer in front.",
        f"{capital(vessel)} in a larger tray, bath {bath_mm:.0f} mm deep, thermometer in it, "
        f"{said}; {cover}; extraction at the rim",
        size_mm=(122.0, 50.0),
        body="".join(parts),
    )


def _piece_at(etch: EtchPlan) -> tuple[float, float]:
    """Where the line to the words about the piece begins."""
    if etch.electro is not None:
        return 72.4, 31.0
    return (61.0, 31.0) if etch.pour.hangs else (75.0, 35.0)


def _how_it_lies(plan: Plan, etch: EtchPlan) -> str:
    if etch.electro is not None:
        return "face to cathode, 60 mm apart"
    if etch.pour.hangs:
        return "piece upright, on a plastic wire"
    lines = () if plan.pair is None else (*plan.pair.advice, *plan.material.advice)
    side = "down" if any("face down" in line.text for line in lines) else "up"
    return f"piece face {side}, on plastic feet"


# Heights in the drawing of the bath: its rim, its level, the tray's floor.
_RIM, _LEVEL, _FLOOR = 16.0, 21.0, 39.0


def _trays() -> list[str]:
    """Both trays, the bath in the inner one, and the thermometer."""
    return [
        f'<path d="M26 28V44H94V28" {_THICK}/>',
        f'<path d="M34 {_LEVEL:g}V{_FLOOR:g}H86V{_LEVEL:g}Z" fill="#dfe7ec"/>',
        f'<path d="M34 {_RIM:g}V{_FLOOR:g}H86V{_RIM:g}" {_THICK}/>',
        f'<path d="M34 {_LEVEL:g}H86" {_THIN}/>',
        '<path d="M42 11V33" stroke="#000" stroke-width="1.5" stroke-linecap="round"/>',
        '<circle cx="42" cy="34" r="1.5" fill="#000"/>',
    ]


def _hanging() -> list[str]:
    """The piece upright on a wire, so that sludge falls out of it."""
    piece = _box(59, _LEVEL + 3, 2.6, _FLOOR - _LEVEL - 5, "#8d9296")
    return [f'<path d="M50 {_RIM - 1:g}H70M60 {_RIM - 1:g}V{_LEVEL + 3:g}" {_LINE}/>', piece]


def _facing() -> list[str]:
    """The piece on its wire, the cathode before its etched face, both wholly or partly in."""
    piece = _box(52, _LEVEL + 3, 2.6, _FLOOR - _LEVEL - 5, "#8d9296")
    cathode = _box(70, _RIM - 1, 2.2, _FLOOR - _RIM - 2, "#fff")
    return [
        f'<path d="M46 {_RIM - 1:g}H58M53.3 {_RIM - 1:g}V{_LEVEL + 3:g}" {_LINE}/>',
        piece,
        cathode,
        label("+", 58.8, _RIM + 1.2, anchor="middle"),
        label("\u2212", 74.6, _RIM + 1.2, anchor="middle"),
        _lead(55, 33, 70, 33),
        label("60 mm", 62.4, 32.2, anchor="middle"),
    ]


def _lying() -> list[str]:
    """The piece face up on two feet."""
    feet = [_box(x, _FLOOR - 2.6, 3, 2.2, "#fff") for x in (50, 71)]
    return [*feet, _box(47, _FLOOR - 5.0, 30, 2.4, "#8d9296")]


def _gas_leaves() -> list[str]:
    return [f'<path d="M{x} 13V5m-1.4 2l1.4 -2l1.4 2" {_LINE}/>' for x in (48, 56, 64, 72)]


def _loose_lid() -> list[str]:
    """A lid that lies askew: one side on the rim, the other above it."""
    return [f'<path d="M46 {_RIM - 3.4:g}L88 {_RIM - 6.6:g}" {_THICK}/>']


def _lead(x0: float, y0: float, x1: float, y1: float) -> str:
    """A thin line from a part to its label."""
    return f'<path d="M{x0:g} {y0:g}L{x1:g} {y1:g}" {_THIN}/>'
