"""Images: flattened over white, then the sub-pixel contour of their darkness.

Pixel (row, col) has its centre at (col + 0.5, row + 0.5) px from the image's upper left corner.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.artwork.rings import EMPTY, only_areas
from stopout.artwork.scale import MM_PER_INCH, Page
from stopout.errors import ArtworkError

__all__ = ["RasterImage", "dark_regions", "read_image"]

_MOST_PIXELS = 100_000_000
_STRIP_ROWS = 1024
_MOST_POINTS = 20_000_000
# Written by programs that were never told a size.
_UNTOLD_DPI = (72.0, 96.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RasterImage:
    """An image as luma over white.

    Attributes
    ----------
    luma : (M, N) ndarray of uint8 or uint16
        Row 0 on top; 0 is black, the type's largest value is white.
    page : Page
        Its size in pixels, and mm per pixel where the file states it.
    is_untold : bool
        True where that statement is 72 or 96 dpi, which most likely nobody chose.
    """

    luma: NDArray[np.uint8] | NDArray[np.uint16]
    page: Page
    is_untold: bool


def read_image(data: bytes, *, name: str) -> RasterImage:
    """Read an image file: colour, palette, 16 bit, transparency and camera rotation.

    Raises
    ------
    ArtworkError
        If the image is damaged, too large, or has pixels that are not square.
    """
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            # The size limit below speaks for itself.
            warnings.simplefilter("ignore")
            image = Image.open(BytesIO(data))
            columns, rows = image.size
            if columns * rows > _MOST_PIXELS:
                raise ArtworkError(
                    f"{name}: the image has {columns * rows / 1e6:.0f} million pixels; "
                    f"{_MOST_PIXELS / 1e6:.0f} million is the most; save it at a lower resolution"
                )
            if getattr(image, "n_frames", 1) > 1:
                raise ArtworkError(f"{name}: the file holds several pictures; save one alone")
            stated = image.info.get("dpi")
            image.load()
            turned = ImageOps.exif_transpose(image)
    except ArtworkError:
        raise
    except Exception as fault:
        raise ArtworkError(f"{name}: the image cannot be read: {fault}") from None
    is_turned = turned.size != image.size
    luma = _luma(turned)
    across, down = _resolution(stated, is_turned)
    if across is not None and down is not None and abs(across - down) > 0.005 * across:
        raise ArtworkError(
            f"{name}: its pixels are not square ({across:.4g} x {down:.4g} dpi); "
            "save it with the same resolution both ways"
        )
    page = Page(
        width=float(luma.shape[1]),
        height=float(luma.shape[0]),
        mm_per_unit=None if across is None else MM_PER_INCH / across,
        kind="image",
    )
    untold = across is not None and any(abs(across - dpi) < 0.05 for dpi in _UNTOLD_DPI)
    return RasterImage(luma=luma, page=page, is_untold=untold)


def dark_regions(image: RasterImage, *, threshold: float, mm_per_px: float) -> BaseGeometry:
    """Return what is darker than the threshold, in page mm.

    Parameters
    ----------
    threshold : float
        Dark is a luma below ``1 - threshold`` of white; the outline runs where the luma,
        interpolated between pixel centres, takes that value.
    mm_per_px : float

    Returns
    -------
    Polygon or MultiPolygon
        Valid, maybe empty; vertices moved by at most 0.05 px by simplification.
    """
    import contourpy

    white = np.iinfo(image.luma.dtype).max
    level = (1.0 - threshold) * white
    rows = image.luma.shape[0]
    pieces: list[BaseGeometry] = []
    for top in range(-1, rows, _STRIP_ROWS):
        bottom = min(top + _STRIP_ROWS, rows)
        strip = _padded(image.luma, top, bottom, white)
        if strip.min() >= level:
            continue
        contours = contourpy.contour_generator(
            x=np.arange(strip.shape[1]) - 0.5,
            y=np.arange(top, bottom + 1) + 0.5,
            z=strip,
            fill_type=contourpy.FillType.OuterOffset,
        ).filled(-np.inf, level)
        pieces += _polygons(*contours)
        if sum(map(shapely.get_num_coordinates, pieces[-1:])) > _MOST_POINTS:
            raise ArtworkError("the image's outlines have too many points; smooth it first")
    if not pieces:
        return EMPTY
    whole = shapely.union_all(np.array(pieces, dtype=object))
    plain = only_areas(shapely.make_valid(shapely.simplify(whole, 0.05)))
    return shapely.transform(plain, lambda xy: xy * mm_per_px)


def _padded(
    luma: NDArray[np.uint8] | NDArray[np.uint16], top: int, bottom: int, white: int
) -> NDArray[np.float64]:
    """Rows top..bottom inclusive, with white beyond the image's edge."""
    rows, columns = luma.shape
    strip = np.full((bottom - top + 1, columns + 2), float(white))
    first, last = max(top, 0), min(bottom, rows - 1)
    if last >= first:
        strip[first - top : last - top + 1, 1:-1] = luma[first : last + 1]
    return strip


def _polygons(
    points: list[NDArray[np.float64]], offsets: list[NDArray[np.uint32]]
) -> list[Polygon]:
    polygons = []
    for xy, cuts in zip(points, offsets, strict=True):
        rings = [xy[a:b] for a, b in pairwise(cuts)]
        rings = [ring for ring in rings if len(ring) >= 4]
        if rings:
            polygon = Polygon(rings[0], rings[1:])
            polygons.append(polygon if polygon.is_valid else shapely.make_valid(polygon))
    return [only_areas(polygon) for polygon in polygons]


def _resolution(stated: object, is_turned: bool) -> tuple[float | None, float | None]:
    if not isinstance(stated, tuple) or len(stated) != 2:
        return None, None
    across, down = float(stated[0]), float(stated[1])
    # One dot per inch is how files say that only the proportions are known.
    if not (np.isfinite(across) and np.isfinite(down)) or min(across, down) <= 1.0:
        return None, None
    return (down, across) if is_turned else (across, down)


def _luma(image: object) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """Rec. 709 luma of the sRGB values, transparency over white."""
    picture: object = image
    mode = picture.mode  # type: ignore[attr-defined]
    if mode.startswith("I;16") or mode in ("I", "F"):
        wide = np.asarray(picture, dtype=np.float64)
        return np.clip(np.rint(wide), 0, 65535).astype(np.uint16)
    if mode in ("1", "L") and "transparency" not in picture.info:  # type: ignore[attr-defined]
        return np.asarray(picture.convert("L"))  # type: ignore[attr-defined]
    rgba = np.asarray(picture.convert("RGBA"))  # type: ignore[attr-defined]
    result = np.empty(rgba.shape[:2], dtype=np.uint8)
    weights = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
    for top in range(0, len(rgba), _STRIP_ROWS):
        part = rgba[top : top + _STRIP_ROWS].astype(np.float32)
        alpha = part[..., 3] / 255.0
        grey = part[..., :3] @ weights
        result[top : top + _STRIP_ROWS] = np.rint(grey * alpha + 255.0 * (1.0 - alpha))
    return result
