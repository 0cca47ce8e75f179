"""Draws scans of coupons whose truth is known: a renderer of its own, for the tests only.

It shares no code with the reader. Shapes are decided point by point in millimetres (five by five
points in each pixel that an outline may cross), seen through an exact inverse homography, then
blurred, lit, made noisy, dusted and rounded as a scanner or a camera would.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

import cv2
import numpy as np

__all__ = ["Look", "Truth", "as_file", "clearing_coupon", "etch_coupon", "render"]

# The scans drawn last: several tests look at one.
_drawn: dict[tuple[Any, ...], np.ndarray] = {}
_MOST_DRAWN = 12
_SUB = 5
# No point of a pixel lies further from its middle than half a diagonal; with perspective pixels
# are not of one size [px].
_REACH_PX, _REACH_IN_PERSPECTIVE_PX = 0.71, 1.5


@dataclass(frozen=True, kw_only=True)
class Truth:
    """What really happened to the coupon. Radii are 1/e^2, the key the axis measured across."""

    radius_mm: dict[str, float] = field(default_factory=lambda: {"x": 0.085, "y": 0.06})
    threshold_j_per_mm: dict[str, float] = field(default_factory=lambda: {"x": 0.024, "y": 0.020})
    width_sd_mm: float = 0.0
    roughness_mm: float = 0.0
    undercut_mm: float = 0.0
    disc_growth_mm: float = 0.0
    fill_width_mm: float = 0.12


@dataclass(frozen=True, kw_only=True)
class Look:
    """How the scan looks."""

    dpi: float = 1200.0
    rotation_deg: float = 0.0
    quarter_turns: int = 0
    is_mirrored: bool = False
    scale: float = 1.0
    tilt: tuple[float, float] = (0.0, 0.0)
    margin_mm: float = 3.0
    blur_px: float = 0.9
    noise: float = 2.0
    paint: float = 45.0
    cleared: float = 205.0
    around: float = 235.0
    uneven: float = 0.0
    dust: int = 0
    gamma: float = 1.0
    seed: int = 1


def clearing_coupon(
    *, repeats: int = 3, symmetric: bool = False, power_w: float = 5.5
) -> dict[str, Any]:
    """A coupon with no key beyond the contract's: ten levels in both axes, discs, patches."""
    lines = []
    speed = 20.0
    for axis, left in (("y", 5.0), ("x", 20.0)):
        for level in range(10):
            for repeat in range(repeats):
                dose = 0.0165 * 1.29**level * (1.2 if axis == "x" else 1.0)
                k = level * repeats + repeat
                if axis == "y":  # runs along x, measures across y
                    a, b = [left, 4.0 + 0.8 * k], [left + 11.0, 4.0 + 0.8 * k]
                else:
                    a, b = [left + 0.8 * k, 5.0], [left + 0.8 * k, 16.0]
                lines.append(
                    {
                        "id": f"{axis}{level}{'abcdef'[repeat]}",
                        "from_mm": a,
                        "to_mm": b,
                        "line_dose_j_per_mm": dose,
                        "power_fraction": dose * speed / power_w,
                        "speed_mm_s": speed,
                        "passes": 1,
                    }
                )
    width, height = 48.0, 32.0
    marks = [
        {"centre_mm": [2.5, 2.5], "diameter_mm": 2.0},
        {"centre_mm": [width - 2.5, 2.5], "diameter_mm": 2.0},
        {"centre_mm": [width - 2.5, height - 2.5], "diameter_mm": 2.0},
        {"centre_mm": [2.5, height - 2.5], "diameter_mm": 2.0},
    ]
    if not symmetric:
        marks.append({"centre_mm": [10.0, 29.5], "diameter_mm": 2.0})
    patches = [
        {"id": f"p{k}", "box_mm": [20.0 + 4.5 * k, 20.0, 23.0 + 4.5 * k, 23.0], "spacing_mm": s}
        for k, s in enumerate((0.08, 0.10, 0.12, 0.14, 0.16))
    ]
    return {
        "format": "stopout-coupon-1",
        "kind": "clearing",
        "width_mm": width,
        "height_mm": height,
        "marks": marks,
        "lines": lines,
        "slots": [],
        "patches": patches,
        "other": [{"box_mm": [22.0, 26.0, 34.0, 28.0]}],
    }


def etch_coupon(*, symmetric: bool = False) -> dict[str, Any]:
    """An etch coupon: slots of stepped widths in both axes."""
    openings = (0.1, 0.15, 0.2, 0.3, 0.4, 0.6, 0.8, 1.0)
    slots = []
    for k, opening in enumerate(openings):
        at = 5.0 + 2.0 * k
        for axis, a, b in (
            ("y", [4.0, at], [14.0, at]),
            ("x", [17.0 + 2.0 * k, 5.0], [17.0 + 2.0 * k, 15.0]),
        ):
            slots.append({"id": f"{axis}{k}", "from_mm": a, "to_mm": b, "opening_mm": opening})
    width, height = 38.0, 26.0
    marks = [
        {"centre_mm": [2.5, 2.5], "diameter_mm": 2.0},
        {"centre_mm": [width - 2.5, 2.5], "diameter_mm": 2.0},
        {"centre_mm": [width - 2.5, height - 2.5], "diameter_mm": 2.0},
        {"centre_mm": [2.5, height - 2.5], "diameter_mm": 2.0},
    ]
    if not symmetric:
        marks.append({"centre_mm": [9.0, 23.5], "diameter_mm": 2.0})
    return {
        "format": "stopout-coupon-1",
        "kind": "etch",
        "width_mm": width,
        "height_mm": height,
        "marks": marks,
        "lines": [],
        "slots": slots,
        "patches": [],
        "other": [],
    }


def to_image(coupon: dict[str, Any], look: Look) -> tuple[np.ndarray, tuple[int, int]]:
    """The homography from coupon mm (y up) to pixel centres, and the image's (rows, columns)."""
    w, h = coupon["width_mm"], coupon["height_mm"]
    px = look.dpi / 25.4 * look.scale
    angle = np.radians(look.rotation_deg + 90.0 * look.quarter_turns)
    flip = -1.0 if look.is_mirrored else 1.0
    centre = np.array([[1, 0, -w / 2], [0, 1, -h / 2], [0, 0, 1.0]])
    turn = np.array(
        [[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
    )
    tilt = np.array([[1, 0, 0], [0, 1, 0], [look.tilt[0] / w, look.tilt[1] / w, 1.0]])
    view = np.diag([flip * px, -px, 1.0]) @ tilt @ turn @ centre
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], float)
    seen = _apply(view, corners)
    low = seen.min(axis=0) - look.margin_mm * px
    size = np.ceil(seen.max(axis=0) + look.margin_mm * px - low).astype(int)
    shift = np.array([[1, 0, -low[0]], [0, 1, -low[1]], [0, 0, 1.0]])
    return shift @ view, (int(size[1]), int(size[0]))


def render(
    coupon: dict[str, Any], truth: Truth, look: Look, *, box_px: tuple[int, ...] | None = None
) -> np.ndarray:
    """The scan as 8-bit grey, row 0 on top; `box_px` crops it: left, top, right, bottom."""
    key = json.dumps(coupon), repr(truth), repr(look), _REACH_PX
    if key not in _drawn:
        _drawn[key] = _render(coupon, truth, look)
        if len(_drawn) > _MOST_DRAWN:
            del _drawn[next(iter(_drawn))]
    left, top, right, bottom = box_px or (0, 0, None, None)
    return _drawn[key][top:bottom, left:right].copy()


def _render(coupon: dict[str, Any], truth: Truth, look: Look) -> np.ndarray:
    rng = np.random.default_rng(look.seed)
    view, (rows, columns) = to_image(coupon, look)
    cleared = np.zeros((rows, columns), np.float32)
    blank = np.zeros((rows, columns), np.float32)
    w, h = coupon["width_mm"], coupon["height_mm"]
    outline = _apply(view, np.array([[0, 0], [w, 0], [w, h], [0, h]], float))
    cv2.fillConvexPoly(blank, np.rint(outline).astype(np.int32), 1.0)
    for mark in coupon["marks"]:
        c, r = np.array(mark["centre_mm"]), mark["diameter_mm"] / 2
        r += truth.undercut_mm + truth.disc_growth_mm
        _add(cleared, view, _around(c, c, r), lambda p, c=c, r=r: r - np.hypot(*(p - c).T))
    for line in coupon["lines"]:
        a, b = np.array(line["from_mm"]), np.array(line["to_mm"])
        axis = "y" if abs(b[0] - a[0]) > abs(b[1] - a[1]) else "x"
        ratio = line["line_dose_j_per_mm"] / truth.threshold_j_per_mm[axis]
        if ratio <= 1:
            continue
        width = truth.radius_mm[axis] * np.sqrt(2 * np.log(ratio))
        width += truth.width_sd_mm * rng.standard_normal()
        if width > 0:
            _add_strip(cleared, view, a, b, width, truth.roughness_mm, rng, is_round=True)
    for slot in coupon["slots"]:
        a, b = np.array(slot["from_mm"]), np.array(slot["to_mm"])
        width = slot["opening_mm"] + 2 * truth.undercut_mm
        width += truth.width_sd_mm * rng.standard_normal()
        _add_strip(cleared, view, a, b, width, truth.roughness_mm, rng, is_round=False)
    for patch in coupon["patches"]:
        x0, y0, x1, y1 = patch["box_mm"]
        n = int((y1 - y0) / patch["spacing_mm"] + 1e-9)
        for k in range(n + 1):
            y = y0 + k * patch["spacing_mm"]
            ends = np.array([x0, y]), np.array([x1, y])
            _add_strip(cleared, view, *ends, truth.fill_width_mm, 0.0, rng, is_round=True)
    for item in coupon["other"]:
        x0, y0, x1, y1 = item["box_mm"]
        for x in np.arange(x0 + 0.3, x1 - 0.2, 1.1):
            a, b = np.array([x, y0 + 0.15]), np.array([x + 0.5, y1 - 0.15])
            _add_strip(cleared, view, a, b, 0.14, 0.0, rng, is_round=True)
    image = look.paint + (look.cleared - look.paint) * cleared
    image = look.around + (image - look.around) * blank
    if look.uneven:
        y = np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
        x = np.linspace(-1, 1, columns, dtype=np.float32)[None]
        light = 1 + look.uneven * (0.6 * x + 0.3 * y - 0.4 * (x**2 + y**2))
        image = image * light
    for _ in range(look.dust):
        at = rng.uniform([0, 0], [columns, rows])
        size = rng.uniform(0.02, 0.12) * look.dpi / 25.4
        value = float(rng.choice([15.0, 240.0]))
        cv2.ellipse(
            image,
            (int(at[0]), int(at[1])),
            (max(int(size), 1), max(int(size / 2), 1)),
            rng.uniform(0, 180),
            0,
            360,
            value,
            -1,
        )
    if look.blur_px:
        image = cv2.GaussianBlur(image, (0, 0), look.blur_px, borderType=cv2.BORDER_REPLICATE)
    if look.gamma != 1:
        image = 255 * (np.clip(image, 0, 255) / 255) ** (1 / look.gamma)
    image = image + look.noise * rng.standard_normal(image.shape, dtype=np.float32)
    return np.clip(np.rint(image), 0, 255).astype(np.uint8)


def as_file(
    image: np.ndarray, *, kind: str = "PNG", dpi: float | None = 1200, **save: Any
) -> bytes:
    """The scan as the bytes of a file."""
    from PIL import Image

    out = BytesIO()
    extra = {} if dpi is None else {"dpi": (dpi, dpi)}
    Image.fromarray(image).save(out, format=kind, **extra, **save)
    return out.getvalue()


def _apply(view: np.ndarray, points: np.ndarray) -> np.ndarray:
    x, y = np.asarray(points, float).T
    depth = view[2, 0] * x + view[2, 1] * y + view[2, 2]
    seen = [row[0] * x + row[1] * y + row[2] for row in view[:2]]
    return np.column_stack(seen if not view[2, :2].any() else [one / depth for one in seen])


def _around(a: np.ndarray, b: np.ndarray, r: float) -> tuple[float, float, float, float]:
    low, high = np.minimum(a, b) - r, np.maximum(a, b) + r
    return (low[0], low[1], high[0], high[1])


def _add_strip(
    canvas: np.ndarray,
    view: np.ndarray,
    a: np.ndarray,
    b: np.ndarray,
    width: float,
    roughness: float,
    rng: np.random.Generator,
    *,
    is_round: bool,
) -> None:
    length = float(np.hypot(*(b - a)))
    along = (b - a) / length
    across = np.array([-along[1], along[0]])
    knots = np.arange(0, length + 0.4, 0.2)
    wave = roughness * rng.standard_normal((2, len(knots)))

    def depth(points: np.ndarray) -> np.ndarray:
        s, t = (points - a) @ along, (points - a) @ across
        upper, lower = width / 2, width / 2
        if roughness:
            upper = upper + np.interp(s, knots, wave[0])
            lower = lower + np.interp(s, knots, wave[1])
        body = np.minimum(np.minimum(s, length - s), np.minimum(upper - t, t + lower))
        if is_round:
            ends = np.minimum(np.hypot(s, t), np.hypot(s - length, t))
            body = np.maximum(body, width / 2 - ends)
        return body

    steepest = 1 + float(np.abs(np.diff(wave)).max()) / 0.2
    _add(canvas, view, _around(a, b, width / 2 + 4 * roughness + 0.05), depth, steepest)


def _add(
    canvas: np.ndarray, view: np.ndarray, box: tuple[float, ...], depth: Any, steepest: float = 1.0
) -> None:
    """Adds the covered share of each pixel, by five by five points.

    `depth` tells how far inside the outline points lie, below 0 outside it, and changes by at most
    `steepest` a millimetre: where a pixel's middle lies deeper than any of its points can be from
    it, all of them are on the same side.
    """
    x0, y0, x1, y1 = box
    corners = _apply(view, np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float))
    left, top = np.maximum(np.floor(corners.min(axis=0)).astype(int) - 1, 0)
    right, bottom = np.ceil(corners.max(axis=0)).astype(int) + 2
    right, bottom = min(right, canvas.shape[1]), min(bottom, canvas.shape[0])
    if right <= left or bottom <= top:
        return
    back = np.linalg.inv(view)
    # No two of the points share a row or a column: an edge along either moves in 25ths of a pixel.
    i, j = np.divmod(np.arange(_SUB**2), _SUB)
    fine = (np.column_stack([i * _SUB + j, j * _SUB + i]) + 0.5)[None] / _SUB**2 - 0.5
    beside = _apply(back, corners[0] + np.array([[0, 0], [1, 0]]))
    pixel_mm = float(np.hypot(*(beside[1] - beside[0])))
    grid = np.stack(np.meshgrid(np.arange(left, right), np.arange(top, bottom)), axis=-1)
    grid = grid.reshape(-1, 2)
    middle = _apply(back, grid)
    near = middle >= np.array([x0, y0]) - 1.5 * pixel_mm
    near &= middle <= np.array([x1, y1]) + 1.5 * pixel_mm
    near = near[:, 0] & near[:, 1]
    grid, deep = grid[near], depth(middle[near])
    reach = _REACH_IN_PERSPECTIVE_PX if view[2, :2].any() else _REACH_PX
    crossed = np.abs(deep) <= steepest * reach * pixel_mm
    share = (deep > 0).astype(np.float32)
    points = _apply(back, (grid[crossed, None] + fine).reshape(-1, 2))
    share[crossed] = (depth(points) >= 0).reshape(-1, _SUB**2).mean(axis=1)
    columns, rows = grid.T
    canvas[rows, columns] = np.maximum(canvas[rows, columns], share)
