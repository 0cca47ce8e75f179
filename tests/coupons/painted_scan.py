"""Draws scans of coupons on another principle than the reader: exact areas of polygons in pixels.

Every outline is a polygon of many corners, carried through the whole view (turn, stretch, skew,
perspective, lens, wobbling carriage) and integrated over each pixel exactly by the area under its
sides. Then come, in light: the grain of paint and metal, the lamp, dust, the optics (a core, a
halo, the carriage's smear), the sensor's noise; and last the curve by which the file is encoded.
It shares no code with the reader and no shape of an edge.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
import shapely

__all__ = [
    "Curve",
    "Made",
    "Sight",
    "any_photograph",
    "any_sight",
    "area_of_pixels",
    "encoded",
    "paint",
    "seeing",
    "small_clearing_coupon",
    "small_etch_coupon",
]

# A wander over about 0.1 mm, of unit variance.
_BELL = np.exp(-0.5 * (np.arange(-4, 5) / 1.5) ** 2)
_BELL /= np.sqrt((_BELL**2).sum())
Curve = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True, kw_only=True)
class Made:
    """What really is on the coupon; radii are 1/e^2, the keys the axis measured across."""

    radius_mm: dict[str, float] = field(default_factory=lambda: {"x": 0.085, "y": 0.06})
    threshold_j_per_mm: dict[str, float] = field(default_factory=lambda: {"x": 0.0284, "y": 0.020})
    line_sd_mm: float = 0.0015
    ragged_mm: float = 0.001
    undercut_mm: float = 0.0
    disc_mm: float = 0.0
    fill_mm: float = 0.12


@dataclass(frozen=True, kw_only=True)
class Sight:
    """How it is seen. Lights are shares of white; blurs are in the scan's pixels.

    `stretch` is how much larger the coupon is in the scan across and down than `dpi` has it;
    `lens` is the share by which a lens draws the corners in; `slant` a camera's two tilts.
    """

    dpi: float = 1200.0
    turn_deg: float = 0.0
    is_mirrored: bool = False
    stretch: tuple[float, float] = (0.0, 0.0)
    skew: float = 0.0
    slant: tuple[float, float] = (0.0, 0.0)
    lens: float = 0.0
    wobble_mm: float = 0.0
    paint: float = 0.03
    bare: float = 0.60
    around: float = 0.85
    grain: float = 0.0
    grain_mm: float = 0.05
    lamp: float = 0.0
    blur_px: tuple[float, float] = (0.6, 0.6)
    halo: float = 0.0
    halo_px: float = 4.0
    smear_px: float = 0.0
    noise: float = 0.004
    dust: int = 0
    curve: str = "srgb"
    margin_mm: float = 2.0
    bar_mm: float = 0.0
    bar_gap_mm: float = 3.0
    sharpened: float = 0.0
    seed: int = 1


def paint(coupon: dict[str, Any], made: Made, sight: Sight) -> np.ndarray:
    """The scan as 8-bit grey, row 0 on top."""
    rng = np.random.default_rng([sight.seed, 7])
    place, (rows, columns) = seeing(coupon["width_mm"], coupon["height_mm"], sight)
    fine = 2
    shape = (rows * fine, columns * fine)

    def seen(region: shapely.Geometry) -> np.ndarray:
        return area_of_pixels(region, lambda p: fine * (place(p) + 0.5), *shape)

    bare = seen(shapely.union_all(list(_openings(coupon, made, rng))))
    face = seen(shapely.box(0, 0, coupon["width_mm"], coupon["height_mm"]))
    px = sight.dpi / 25.4 * fine
    dark = sight.paint * _grained(shape, sight.grain, sight.grain_mm * px, rng)
    light = sight.bare * _grained(shape, sight.grain, sight.grain_mm * px, rng, long=6.0)
    around = np.float32(sight.around)
    image = around + (dark + (light - dark) * bare - around) * face
    if sight.bar_mm:
        image = image + (0.03 - image) * seen(_bar(coupon, sight))
    image = _dusted(image, sight, px, rng)
    image = _optics(image, sight, fine)
    image = image.reshape(rows, fine, columns, fine).mean(axis=(1, 3))
    if sight.lamp:
        y = np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
        x = np.linspace(-1, 1, columns, dtype=np.float32)[None]
        image = image * (1 + sight.lamp * (0.6 * x - 0.3 * y - 0.3 * (x**2 + y**2)))
    if sight.sharpened:
        # A camera's own doing: what differs from a softer picture is drawn larger.
        soft = cv2.GaussianBlur(image, (0, 0), 1.2)
        image = image + np.float32(sight.sharpened) * (image - soft)
    noise = rng.standard_normal(image.shape, np.float32)
    image = image + sight.noise * np.sqrt(0.3 + image) * noise
    return np.clip(np.rint(255 * encoded(image, sight.curve)), 0, 255).astype(np.uint8)


def encoded(light: np.ndarray, curve: str) -> np.ndarray:
    """Light 0 to 1 as the file holds it: "srgb" (IEC 61966-2-1), "plain", or a power "2.0"."""
    light = np.clip(light, 0, 1)
    if curve == "plain":
        return light
    if curve == "srgb":
        return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return light ** (1 / float(curve))


def any_photograph(seed: int, bar_mm: float) -> Sight:
    """Another photograph for each seed: by a phone in the hand, a scale bar below the coupon."""
    rng = np.random.default_rng([seed, 2])
    return Sight(
        dpi=float(rng.uniform(900, 1300)),
        turn_deg=float(rng.uniform(-6, 6)),
        slant=(float(rng.uniform(-0.1, 0.1)), float(rng.uniform(-0.1, 0.1))),
        lens=float(rng.normal(0, 0.004)),
        paint=float(rng.uniform(0.02, 0.06)),
        bare=float(rng.uniform(0.35, 0.65)),
        around=float(rng.uniform(0.7, 0.9)),
        grain=float(rng.uniform(0.02, 0.08)),
        lamp=float(rng.uniform(0.05, 0.2)),
        blur_px=(float(rng.uniform(0.9, 1.6)),) * 2,
        halo=float(rng.uniform(0, 0.03)),
        noise=float(rng.uniform(0.004, 0.012)),
        curve=f"{rng.uniform(1.9, 2.5):.2f}",
        sharpened=float(rng.uniform(0, 0.2)),
        margin_mm=3.0,
        bar_mm=bar_mm,
        seed=seed,
    )


def any_sight(seed: int, dpi: float) -> Sight:
    """Another scan for each seed, within what flatbed scanners and shops do."""
    rng = np.random.default_rng([seed, 1])
    is_dark = rng.random() < 0.6
    blur = rng.uniform(0.35, 0.9)
    return Sight(
        dpi=dpi,
        turn_deg=float(rng.uniform(-8, 8) + 90 * rng.integers(4)),
        stretch=(float(rng.normal(0, 0.002)), float(rng.normal(0, 0.002))),
        skew=float(rng.normal(0, 0.0007)),
        wobble_mm=float(rng.uniform(0, 0.003)),
        paint=float(rng.uniform(0.015, 0.06) if is_dark else rng.uniform(0.55, 0.75)),
        bare=float(rng.uniform(0.35, 0.75) if is_dark else rng.uniform(0.08, 0.25)),
        around=float(rng.uniform(0.7, 0.95)),
        grain=float(rng.uniform(0.02, 0.10)),
        grain_mm=float(rng.uniform(0.03, 0.09)),
        lamp=float(rng.uniform(0, 0.12)),
        blur_px=(float(blur), float(blur * rng.uniform(1.0, 1.3))),
        halo=float(rng.uniform(0, 0.03)),
        halo_px=float(rng.uniform(2.5, 6)),
        smear_px=float(rng.uniform(0, 1.0)),
        noise=float(rng.uniform(0.002, 0.010)),
        dust=int(rng.integers(0, 50)),
        curve="srgb" if rng.random() < 0.7 else f"{rng.uniform(2.1, 2.5):.2f}",
        seed=seed,
    )


# --- the view ---------------------------------------------------------------------------------


def seeing(width_mm: float, height_mm: float, sight: Sight) -> tuple[Curve, tuple[int, int]]:
    """The way from coupon mm (y up) to px (centres whole, y down), and (rows, columns)."""
    turn = np.radians(sight.turn_deg)
    size = float(np.hypot(width_mm, height_mm)) / 2
    px = sight.dpi / 25.4

    def raw(points: np.ndarray) -> np.ndarray:
        x, y = (np.asarray(points, float) - [width_mm / 2, height_mm / 2]).T
        x = -x if sight.is_mirrored else x
        x, y = x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)
        x = x + sight.skew * y
        depth = 1 + (sight.slant[0] * x + sight.slant[1] * y) / (2 * size)
        x, y = x / depth * (1 + sight.stretch[0]), y / depth * (1 + sight.stretch[1])
        y = y + sight.wobble_mm * np.sin(2 * np.pi * y / 9.0 + sight.seed)
        off = 1 - sight.lens * (x**2 + y**2) / size**2
        return np.column_stack([px * x * off, -px * y * off])

    face = shapely.box(0, 0, width_mm, height_mm)
    if sight.bar_mm:
        wide = (sight.bar_mm - width_mm) / 2 + 2
        face = face.union(shapely.box(-wide, -sight.bar_gap_mm - 2, width_mm + wide, height_mm))
    corners = shapely.get_coordinates(shapely.segmentize(face, 1.0))
    there = raw(corners)
    low = np.floor(there.min(axis=0) - sight.margin_mm * px)
    high = np.ceil(there.max(axis=0) + sight.margin_mm * px)
    columns, rows = (high - low).astype(int)
    return (lambda points: raw(points) - low), (int(rows), int(columns))


def area_of_pixels(region: shapely.Geometry, place: Curve, rows: int, columns: int) -> np.ndarray:
    """Share of each pixel that a region covers, exactly: the areas under all sides summed.

    `place` takes (n, 2) mm to px with pixel (row, column) between whole numbers.
    """
    rings = shapely.get_rings(shapely.orient_polygons(shapely.get_parts(region)))
    rings = shapely.segmentize(rings, 0.25)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    px = place(points)
    same = ring[1:] == ring[:-1]
    a, b = px[:-1][same], px[1:][same]
    side, share = _cut_at_pixels(a, b)
    joined = side[1:] == side[:-1]
    p = (a[side] + share[:, None] * (b - a)[side])[:-1][joined]
    q = (a[side] + share[:, None] * (b - a)[side])[1:][joined]
    middle, down = (p + q) / 2, q[:, 1] - p[:, 1]
    column = np.clip(np.floor(middle[:, 0]), 0, columns).astype(int)
    row = np.floor(middle[:, 1]).astype(int)
    kept = (row >= 0) & (row < rows)
    to_left = np.clip(middle[:, 0], 0, columns) - column
    at, down, to_left = (row * (columns + 2) + column)[kept], down[kept], to_left[kept]
    total = np.bincount(
        np.concatenate([at, at + 1]),
        np.concatenate([down * (1 - to_left), down * to_left]),
        rows * (columns + 2),
    ).reshape(rows, columns + 2)
    share = np.empty((rows, columns), np.float32)
    for some in _blocks(rows):
        summed = np.cumsum(total[some, :columns], axis=1)
        share[some] = np.minimum(np.abs(summed, out=summed), 1, out=summed)
    return share


def _blocks(rows: int) -> Iterator[slice]:
    """A few rows at a time, which stay in the processor's own memory."""
    return (slice(top, top + 64) for top in range(0, rows, 64))


def _cut_at_pixels(a: np.ndarray, b: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where each side meets a border of pixels, its ends among them: (side, share along it)."""
    sides, shares = [], []
    for k in (0, 1):
        low, high = np.minimum(a[:, k], b[:, k]), np.maximum(a[:, k], b[:, k])
        first = np.ceil(low).astype(int)
        count = np.maximum(np.floor(high).astype(int) - first + 1, 0)
        side = np.repeat(np.arange(len(a)), count)
        line = first[side] + np.arange(len(side)) - np.repeat(np.cumsum(count) - count, count)
        run = (b - a)[side, k]
        sides.append(side)
        shares.append((line - a[side, k]) / np.where(run == 0, 1, run))
    every = np.arange(len(a))
    side = np.concatenate([*sides, every, every])
    share = np.clip(np.concatenate([*shares, np.zeros(len(a)), np.ones(len(a))]), 0, 1)
    order = np.lexsort((share, side))
    return side[order], share[order]


# --- what is open -----------------------------------------------------------------------------


def _openings(
    coupon: dict[str, Any], made: Made, rng: np.random.Generator
) -> Iterable[shapely.Geometry]:
    for mark in coupon["marks"]:
        radius = mark["diameter_mm"] / 2 + made.undercut_mm + made.disc_mm
        yield shapely.Point(mark["centre_mm"]).buffer(radius, quad_segs=90)
    for line in coupon["lines"]:
        a, b = np.array(line["from_mm"], float), np.array(line["to_mm"], float)
        axis = "y" if abs(b[0] - a[0]) > abs(b[1] - a[1]) else "x"
        ratio = line["line_dose_j_per_mm"] / made.threshold_j_per_mm[axis]
        width = made.radius_mm[axis] * np.sqrt(2 * np.log(max(ratio, 1)))
        if width > 0:
            width += made.line_sd_mm * rng.standard_normal()
            yield _ragged(a, b, width, made.ragged_mm, rng, over_mm=width / 2)
    for slot in coupon["slots"]:
        a, b = np.array(slot["from_mm"], float), np.array(slot["to_mm"], float)
        width = slot["opening_mm"] + 2 * made.undercut_mm
        width += made.line_sd_mm * rng.standard_normal()
        yield _ragged(a, b, width, made.ragged_mm, rng, over_mm=made.undercut_mm)
    for patch in coupon["patches"]:
        x0, y0, x1, y1 = patch["box_mm"]
        for y in np.arange(
            y0 + made.fill_mm / 2, y1 - made.fill_mm / 2 + 1e-9, patch["spacing_mm"]
        ):
            yield shapely.LineString([(x0, y), (x1, y)]).buffer(made.fill_mm / 2)
    for item in coupon["other"]:
        x0, y0, x1, y1 = item["box_mm"]
        for x in np.arange(x0 + 0.3, x1 - 0.2, 1.1):
            yield shapely.LineString([(x, y0 + 0.15), (x + 0.5, y1 - 0.15)]).buffer(0.07)


def _bar(coupon: dict[str, Any], sight: Sight) -> shapely.Geometry:
    """Two black discs of 3 mm below the coupon, `bar_mm` apart, a thin line between them."""
    middle, y = coupon["width_mm"] / 2, -sight.bar_gap_mm
    ends = [(middle + way * sight.bar_mm / 2, y) for way in (-1, 1)]
    discs = [shapely.Point(end).buffer(1.5, quad_segs=90) for end in ends]
    line = shapely.LineString([(ends[0][0] + 2.5, y), (ends[1][0] - 2.5, y)]).buffer(0.15)
    return shapely.union_all([*discs, line])


def _ragged(
    a: np.ndarray,
    b: np.ndarray,
    width: float,
    ragged: float,
    rng: np.random.Generator,
    *,
    over_mm: float,
) -> shapely.Geometry:
    """A straight opening whose two sides wander, each on its own, over about 0.1 mm."""
    length = float(np.hypot(*(b - a)))
    along = (b - a) / length
    across = np.array([-along[1], along[0]])
    s = np.arange(-over_mm, length + over_mm, 0.04)
    sides = []
    for way in (1.0, -1.0):
        wave = np.convolve(rng.standard_normal(len(s) + 8), _BELL, mode="valid")
        off = way * np.maximum(width / 2 + ragged * wave, 1e-4)
        sides.append(a + s[:, None] * along + off[:, None] * across)
    return shapely.Polygon(np.concatenate([sides[0], sides[1][::-1]])).buffer(0)


# --- light and optics -------------------------------------------------------------------------


def _grained(
    shape: tuple[int, int],
    share: float,
    size_px: float,
    rng: np.random.Generator,
    *,
    long: float = 1.0,
) -> np.ndarray:
    """Relative brightness about 1 that varies by `share` in grains, drawn out along rows."""
    if share == 0:
        return np.ones(shape, np.float32)
    step = max(int(size_px / 2), 1)
    coarse = (shape[0] // step + 2, int(shape[1] / (step * long)) + 2)
    wave = cv2.GaussianBlur(rng.standard_normal(coarse, np.float32), (0, 0), 1.0) / 0.28
    rows = np.minimum(np.arange(shape[0]) / step, coarse[0] - 1)
    columns = np.minimum(np.arange(shape[1]) / (step * long), coarse[1] - 1)
    y0, x0 = rows.astype(int), columns.astype(int)
    y1, x1 = np.minimum(y0 + 1, coarse[0] - 1), np.minimum(x0 + 1, coarse[1] - 1)
    fy, fx = (rows - y0)[:, None], (columns - x0)[None]
    wave, fy, fx = (one.astype(np.float32) for one in (share * wave, fy, fx))
    wide = (1 - fx) * np.take(wave, x0, axis=1) + fx * np.take(wave, x1, axis=1)
    grains = np.empty(shape, np.float32)
    for some in _blocks(shape[0]):
        mine = (wide[y1[some]] - wide[y0[some]]) * fy[some]
        mine += wide[y0[some]]
        mine += 1
        np.clip(mine, 0.05, 2, out=grains[some])
    return grains


def _dusted(image: np.ndarray, sight: Sight, px: float, rng: np.random.Generator) -> np.ndarray:
    for _ in range(sight.dust):
        y, x = rng.uniform([0, 0], image.shape)
        r = rng.uniform(0.02, 0.09) * px
        top, left = max(int(y - r), 0), max(int(x - r), 0)
        part = image[top : int(y + r) + 2, left : int(x + r) + 2]
        rows, columns = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
        near = np.hypot(rows - y, columns - x) < r
        part[near] = rng.choice([0.04, 0.8])
    return image


def _optics(image: np.ndarray, sight: Sight, fine: int) -> np.ndarray:
    across, down = (fine * one for one in sight.blur_px)
    core = cv2.GaussianBlur(image, (0, 0), across, sigmaY=down, borderType=cv2.BORDER_REPLICATE)
    if sight.smear_px > 0:
        # A carriage that moves while the line is read: rows run together.
        whole = max(round(fine * sight.smear_px), 1)
        core = cv2.blur(core, (1, whole), borderType=cv2.BORDER_REPLICATE)
    if sight.halo > 0:
        half = cv2.resize(core, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        half = cv2.GaussianBlur(half, (0, 0), fine * sight.halo_px / 2)
        wide = cv2.resize(half, core.shape[::-1], interpolation=cv2.INTER_LINEAR)
        core = core + np.float32(sight.halo) * (wide - core)
    return core


def small_clearing_coupon(*, repeats: int = 2) -> dict[str, Any]:
    """A clearing coupon on 34 x 21 mm: ten doses a repeat and axis, lines 7 mm long, five discs."""
    lines = []
    for axis, left in (("y", 5.0), ("x", 14.0)):
        for k in range(10 * repeats):
            level = k % 10
            dose = 0.0165 * 1.29**level * (1.4 if axis == "x" else 1.0)
            at = 0.8 * k if axis == "x" else 0.72 * k
            a, b = ([left, 4.0 + at], [left + 7.0, 4.0 + at])
            if axis == "x":
                a, b = [left + at, 6.0], [left + at, 13.0]
            lines.append(
                {"id": f"{axis}{level}-{k // 10}", "from_mm": a, "to_mm": b, "passes": 1,
                 "line_dose_j_per_mm": dose, "power_fraction": dose * 20 / 5.5, "speed_mm_s": 20.0}
            )  # fmt: skip
    return _coupon("clearing", 34.0, 21.0, lines=lines)


def small_etch_coupon() -> dict[str, Any]:
    """An etch coupon on 30 x 18 mm: six slots of stepped widths in both axes."""
    slots = []
    for k, opening in enumerate((0.1, 0.15, 0.2, 0.3, 0.5, 0.8)):
        for axis, a, b in (
            ("y", [4.0, 5.0 + 1.7 * k], [11.0, 5.0 + 1.7 * k]),
            ("x", [13.5 + 2.0 * k, 5.0], [13.5 + 2.0 * k, 12.0]),
        ):
            slots.append({"id": f"{axis}{k}", "from_mm": a, "to_mm": b, "opening_mm": opening})
    return _coupon("etch", 30.0, 18.0, slots=slots)


def _coupon(kind: str, width: float, height: float, **parts: Any) -> dict[str, Any]:
    at = [(2.2, 2.2), (width - 2.2, 2.2), (2.2, height - 2.2), (width - 2.2, height - 2.2)]
    at.append((2.2 + 0.32 * (width - 4.4), 2.2))
    marks = [{"centre_mm": list(one), "diameter_mm": 2.0} for one in at]
    marks[0]["diameter_mm"] = 3.0
    none: dict[str, Any] = {"lines": [], "slots": [], "patches": [], "other": []}
    head = {"format": "stopout-coupon-1", "kind": kind, "width_mm": width, "height_mm": height}
    return {**head, "marks": marks, **none, **parts}
