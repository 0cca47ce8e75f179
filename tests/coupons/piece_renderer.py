"""Draws scans of cleared and etched pieces whose truth is known; shares no code with the reader."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from coupons.painted_scan import area_of_pixels
from coupons.scan_renderer import Look, to_image

__all__ = ["BLANK", "FACE", "OPENING", "parts_with", "render_piece"]

BLANK = {"width_mm": 24.0, "height_mm": 16.0}
FACE = shapely.box(0, 0, 24, 16).difference(shapely.Point(2.5, 8).buffer(1.2))


def _opening() -> BaseGeometry:
    """A tag's openings: a seven, an F, bars of stepped widths, a ring, a thin line."""
    bars = [
        shapely.box(14 + 1.4 * k, 2, 14 + 1.4 * k + w, 8)
        for k, w in enumerate((0.2, 0.3, 0.5, 0.8))
    ]
    ring = shapely.Point(19, 12).buffer(2.2, quad_segs=64) - shapely.Point(19, 12).buffer(
        1.2, quad_segs=64
    )
    f = shapely.union_all(
        [shapely.box(5, 3, 6, 12), shapely.box(5, 11, 9, 12), shapely.box(5, 7, 8, 7.9)]
    )
    seven = shapely.union_all(
        [
            shapely.box(9.8, 12.4, 13.4, 13.4),
            Polygon([(12.4, 12.4), (13.4, 12.4), (11.5, 4), (10.5, 4)]),
        ]
    )
    return shapely.union_all([*bars, ring, f, seven, shapely.box(5, 1.2, 13, 1.35)])


OPENING = _opening()


def parts_with(region: BaseGeometry, at: tuple[float, float]) -> BaseGeometry:
    """The part of a region nearest to a point."""
    return min(region.geoms, key=lambda part: part.distance(shapely.Point(at)))


def render_piece(
    bare: BaseGeometry,
    look: Look,
    *,
    blank: dict[str, float] = BLANK,
    face: BaseGeometry = FACE,
    stretch: float = 1.0,
    pins: Sequence[tuple[float, float, float]] = (),
    is_srgb: bool = False,
) -> np.ndarray:
    """The scan as 8-bit grey: `bare` is what shows bare, `pins` are x, y, diameter of bare spots.

    `stretch` is how much larger the piece came out than planned.
    """
    view, (rows, columns) = to_image(blank, look)
    view = view @ np.diag([stretch, stretch, 1.0])
    for x, y, diameter in pins:
        bare = bare.union(shapely.Point(x, y).buffer(diameter / 2, quad_segs=32))
    cleared = _covered(bare.intersection(face), view, rows, columns)
    on_face = _covered(face, view, rows, columns)
    image = look.paint + (look.cleared - look.paint) * cleared
    image = look.around + (image - look.around) * on_face
    if look.uneven:
        y = np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
        x = np.linspace(-1, 1, columns, dtype=np.float32)[None]
        image = image * (1 + look.uneven * (0.6 * x + 0.3 * y - 0.4 * (x**2 + y**2)))
    if look.blur_px:
        image = cv2.GaussianBlur(image, (0, 0), look.blur_px, borderType=cv2.BORDER_REPLICATE)
    if is_srgb:
        # IEC 61966-2-1, from light to what is stored.
        light = np.clip(image, 0, 255) / 255
        image = 255 * np.where(
            light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055
        )
    rng = np.random.default_rng(look.seed)
    image = image + look.noise * rng.standard_normal(image.shape, dtype=np.float32)
    return np.clip(np.rint(image), 0, 255).astype(np.uint8)


def _covered(region: BaseGeometry, view: np.ndarray, rows: int, columns: int) -> np.ndarray:
    """Share of each pixel covered, exactly."""

    def seen(points: np.ndarray) -> np.ndarray:
        moved = np.column_stack([points, np.ones(len(points))]) @ view.T
        return moved[:, :2] / moved[:, 2:] + 0.5

    return area_of_pixels(region, seen, rows, columns)
