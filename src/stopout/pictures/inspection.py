"""A scan of a piece with its faults ringed and numbered, and its edges drawn far too far off."""

from __future__ import annotations

import base64
from io import BytesIO

import numpy as np
import shapely

from stopout.pictures.means.drawing import GREY, INK, PALE, Frame, line, region, scale_bar, text
from stopout.pictures.means.fonts import text_width
from stopout.pictures.means.render import drawn_png
from stopout.scans.inspecting.faults import Fault
from stopout.scans.inspecting.piece import Inspection, Intended
from stopout.scans.inspecting.seen import Seen
from stopout.scans.inspecting.whole import whole_heads
from stopout.values import FloatArray

_WIDTH = 1800
_LEFT, _TOP = 60.0, 150.0
_PANEL = 1090.0
_TALLEST = 1000.0
_LIST = 1190.0
_MOST_LISTED = 22
_ROW = 54.0
_RING = "#b3261e"
_OUT, _IN = "#b3261e", "#2a6a9a"
_MAYBE = {"open": ", or dust?", "dust": ", dust?"}
_FACTORS = (200, 100, 50, 20, 10)
_DRAWN_MM = 0.5
_SMOOTH_MM = 0.3


def inspection_png(found: Inspection, intended: Intended, *, title: str) -> bytes:
    """Render an inspection as a PNG.

    Parameters
    ----------
    found : Inspection
    intended : Intended
        The plan.
    title : str
        Headline.

    Returns
    -------
    bytes
        1800 px wide; the same inspection gives the same bytes.
    """
    return drawn_png(inspection_svg(found, intended, title=title))


def inspection_svg(found: Inspection, intended: Intended, *, title: str) -> str:
    """The same as SVG text, whose fonts and pixel size `inspection_png` supplies."""
    frame = _frame(intended, _TOP)
    below = _frame(intended, frame.top_px + frame.height_px + 110)
    height = below.top_px + below.height_px + 70
    height = max(height, _TOP + 240 + _ROW * min(len(found.faults), _MOST_LISTED + 1))
    size = 40.0
    while text_width(title, size=size, weight=600) > _WIDTH - 2 * _LEFT and size > 18:
        size -= 1
    pieces = [
        text(title, _LEFT, 76, size=size, weight=600),
        text("The scan laid flat, as worked", _LEFT, 126, size=26, fill=GREY),
        _scan(found.seen, frame),
        *_rings(found.faults, frame),
        *_edges(found, intended, below),
        *_list(found),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{_WIDTH}" height="{height:.0f}" viewBox="0 0 {_WIDTH} {height:.0f}">'
        f"{''.join(pieces)}</svg>"
    )


def _frame(intended: Intended, top: float) -> Frame:
    x0, y0, x1, y1 = intended.face.bounds
    scale = min(_PANEL / (x1 - x0), _TALLEST / (y1 - y0))
    return Frame(
        left_px=_LEFT,
        top_px=top,
        px_per_mm=scale,
        width_mm=x1 - x0,
        height_mm=y1 - y0,
        x_mm=x0,
        y_mm=y0,
    )


def _scan(seen: Seen, frame: Frame) -> str:
    """The scan's grey levels as an embedded picture."""
    import cv2
    from PIL import Image

    grid = seen.grid
    factor = min(1.5 * frame.px_per_mm * grid.pitch_mm, 1.0)
    size = (max(round(grid.columns * factor), 1), max(round(grid.rows * factor), 1))
    small = cv2.resize(
        np.clip(seen.raw, 0, 255).astype(np.uint8), size, interpolation=cv2.INTER_AREA
    )
    out = BytesIO()
    Image.fromarray(np.asarray(small)).save(out, format="PNG")
    data = base64.b64encode(out.getvalue()).decode("ascii")
    left, top = frame.place(grid.left_mm, grid.top_mm)
    wide, high = (n * grid.pitch_mm * frame.px_per_mm for n in (grid.columns, grid.rows))
    return (
        f'<svg x="{frame.left_px:.1f}" y="{frame.top_px:.1f}" width="{frame.width_px:.1f}" '
        f'height="{frame.height_px:.1f}"><image x="{left - frame.left_px:.1f}" '
        f'y="{top - frame.top_px:.1f}" width="{wide:.1f}" height="{high:.1f}" '
        f'preserveAspectRatio="none" xlink:href="data:image/png;base64,{data}"/></svg>'
    )


def _rings(faults: tuple[Fault, ...], frame: Frame) -> list[str]:
    """A ring with its number about each fault, white around dark: it reads on any ground."""
    pieces: list[str] = []
    numbers: list[str] = []
    taken: list[tuple[float, float]] = []
    for k, one in enumerate(faults, 1):
        x0, y1, x1, y0 = *frame.place(*one.box_mm[:2]), *frame.place(*one.box_mm[2:])
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        half_x, half_y = max((x1 - x0) / 2, 4) + 12, max((y1 - y0) / 2, 4) + 12
        corner = min(half_x, half_y)
        shape = (
            f'<rect x="{x - half_x:.1f}" y="{y - half_y:.1f}" width="{2 * half_x:.1f}" '
            f'height="{2 * half_y:.1f}" rx="{min(corner, 18):.1f}" fill="none"'
        )
        dashes = ' stroke-dasharray="12 7"' if one.kind in ("wide", "narrow") else ""
        pieces.append(f'{shape} stroke="#fff" stroke-width="8"/>')
        pieces.append(f'{shape} stroke="{_RING}" stroke-width="4"{dashes}/>')
        corner_at = (min(x + half_x, frame.left_px + frame.width_px - 34), y - half_y)
        numbers.append(_number(str(k), corner_at, taken))
    return pieces + numbers


def _number(words: str, corner: tuple[float, float], taken: list[tuple[float, float]]) -> str:
    """A number beside its ring, or above where others stand, with a line that leads there."""
    x, y = corner[0] + 6, corner[1] + 12
    while any(abs(x - a) < 40 and abs(y - b) < 30 for a, b in taken):
        y -= 6
    taken.append((x, y))
    leader = ""
    if y < corner[1] - 6:
        leader = line((x + 6, y + 4), corner, stroke="#fff", stroke_width=5)
        leader += line((x + 6, y + 4), corner, stroke=_RING, stroke_width=2)
    return leader + text(words, x, y, size=30, weight=600, halo=True)


def _list(found: Inspection) -> list[str]:
    heads = whole_heads(found)
    pieces = [
        text(head, _LIST, _TOP + 30 + 40 * k, size=32, weight=600, fill=_RING)
        for k, head in enumerate(heads)
    ]
    top = _TOP + 30 + 48 * len(heads)
    if not found.faults:
        last = "no stroke off from the others" if heads else "no stroke too wide or narrow"
        return [
            *pieces,
            text("Nothing missing, no pinhole,", _LIST, top, size=28, weight=600),
            text(last, _LIST, top + 34, size=28, weight=600),
        ]
    for k, one in enumerate(found.faults[:_MOST_LISTED], 1):
        y = top + _ROW * (k - 1)
        head, rest = _words(one)
        pieces.append(text(str(k), _LIST + 34, y, size=28, weight=600, anchor="end"))
        pieces.append(text(head, _LIST + 52, y, size=26, weight=600))
        pieces.append(text(rest, _LIST + 52, y + 25, size=22, fill=GREY))
    more = len(found.faults) - _MOST_LISTED
    if more > 0:
        y = top + _ROW * _MOST_LISTED
        pieces.append(text(f"and {more} more", _LIST + 52, y, size=26))
    return pieces


def _words(one: Fault) -> tuple[str, str]:
    x, y = one.at_mm
    at = f"at ({x:.2f}, {y:.2f}) mm"
    if one.kind == "missing":
        whole = "all" if one.is_whole else "part"
        return f"missing: {whole} of opening {one.part}", f"{one.area_mm2:.3f} mm^2 {at}"
    if one.kind == "pinhole":
        return f"pinhole, {one.diameter_mm:.2f} mm{_MAYBE.get(one.certainty, '')}", at
    if one.offset_mm is None:
        return f"too wide: bare beside opening {one.part}", f"{one.area_mm2:.3f} mm^2 {at}"
    side = "outside" if one.kind == "wide" else "inside"
    return (
        f"too {one.kind}: edges {abs(1000 * one.offset_mm):.0f} um {side}",
        f"opening {one.part}, {one.length_mm:.1f} mm of outline {at}",
    )


# --- edges ------------------------------------------------------------------------------------


def _edges(found: Inspection, intended: Intended, frame: Frame) -> list[str]:
    edges = found.edges
    offset = _smoothed(found)
    largest = float(np.percentile(np.abs(offset), 98)) if len(offset) else 0.0
    factor = next((f for f in _FACTORS if f * largest <= _DRAWN_MM), _FACTORS[-1])
    head = (
        f"Edges: dark where they should be, {factor} times as far off as they are; outside solid, "
        "inside dashed"
    )
    pieces = [
        text(head, _LEFT, frame.top_px - 24, size=26, fill=GREY),
        region(intended.face, frame, fill="none", stroke=PALE, stroke_width=2),
    ]
    for ring in np.unique(edges.ring):
        mine = edges.ring == ring
        points = edges.points_mm[mine]
        pieces.append(line(*_px(points, frame), stroke=INK, stroke_width=1.2))
        moved = points + np.clip(factor * offset[mine], -2, 2)[:, None] * edges.normals[mine]
        for is_out, run in _runs(offset[mine] >= 0, edges.is_good[mine]):
            if len(run) < 2:
                continue
            style: dict[str, str | float] = {"stroke": _OUT if is_out else _IN, "stroke_width": 2.5}
            if not is_out:
                style["stroke_dasharray"] = "7 5"
            pieces.append(line(*_px(moved[run], frame), **style))
    right, y = frame.left_px + frame.width_px, frame.top_px + frame.height_px + 36
    pieces.append(scale_bar(right, y, frame.px_per_mm, 240))
    return pieces


def _smoothed(found: Inspection) -> FloatArray:
    """Offsets as running means over a third of a mm, lost edges left out."""
    edges = found.edges
    smooth = np.zeros(len(edges.offset_mm))
    for ring in np.unique(edges.ring):
        mine = np.flatnonzero(edges.ring == ring)
        step = float(np.median(np.diff(edges.along_mm[mine])))
        reach = max(min(round(_SMOOTH_MM / step / 2), len(mine) // 4), 1)
        use = edges.is_good[mine].astype(float)
        kernel = np.ones(2 * reach + 1)

        def around(
            values: FloatArray, reach: int = reach, kernel: FloatArray = kernel
        ) -> FloatArray:
            return np.convolve(np.pad(values, reach, mode="wrap"), kernel, mode="valid")

        smooth[mine] = around(use * edges.offset_mm[mine]) / np.maximum(around(use), 1)
    return smooth


def _runs(is_out: np.ndarray, is_good: np.ndarray) -> list[tuple[bool, np.ndarray]]:
    """Stretches on one side of the plan's edge, without those where no edge was found."""
    kind = np.where(is_good, np.where(is_out, 1, 2), 0)
    cuts = np.flatnonzero(np.diff(kind)) + 1
    parts = np.split(np.arange(len(kind)), cuts)
    return [(bool(kind[part[0]] == 1), part) for part in parts if kind[part[0]]]


def _px(points: FloatArray, frame: Frame) -> list[tuple[float, float]]:
    lean = shapely.get_coordinates(
        shapely.simplify(shapely.LineString(points), 0.2 / frame.px_per_mm)
    )
    return [(float(x), float(y)) for x, y in frame.to_px(lean)]
