"""Images: flattened over white, then the sub-pixel contour of their darkness, cleaned and smoothed.

Pixel (row, col) has its centre at (col + 0.5, row + 0.5) px from the image's upper left corner.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.artwork.raster.outlines import crossings_of, outlined
from stopout.artwork.regions.rings import EMPTY, only_areas
from stopout.artwork.scale import MM_PER_INCH, Page
from stopout.artwork.tone import luma_of_pixels
from stopout.errors import ArtworkError
from stopout.units import format_number

# A bed of 400 x 400 mm at 40 px/mm, as 8-bit greys in 0.26 GB; all else is done in strips.
_MOST_PIXELS = 260_000_000
_STRIP_ROWS = 1024
# A word of 16 bits or more that is nowhere lighter than this holds the greys of 12 or fewer.
_MOST_OF_12_BITS = 2**12 - 1
# What 12 million pixels may hold and be read within ten seconds.
_MOST_POINTS = 1_000_000
# More edges than this in each pixel are no drawing; a screen of dots stays below it.
_NOISE_SHARE, _FEW_POINTS = 0.6, 50_000
# Written by programs that were never told a size.
_UNTOLD_DPI = (72.0, 96.0)
# By default specks and pinholes up to so many pixels across are dirt.
SPECK_PX = 2.0
# How far a traced edge may be moved to straighten it: greys fix it better than black and white.
_ROOM_GREY_PX, _ROOM_PLAIN_PX = 0.06, 0.48
_ROOM_NOISY_PX = 0.35
_MOST_UNITED = 150_000
_SIMPLIFY_PX = 0.04
_CRUMB_PX2 = 0.05


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
    frames : int
        How many pictures the file holds.
    """

    luma: NDArray[np.uint8] | NDArray[np.uint16]
    page: Page
    is_untold: bool
    frames: int = 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Traced:
    """What is dark in an image, in page mm, and what was cleaned away."""

    dark: BaseGeometry
    specks: int = 0
    pinholes: int = 0


def read_image(data: bytes, *, name: str, number: int = 1) -> RasterImage:
    """Read an image file: colour, palette, 16 bit, transparency and camera rotation.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        What messages call it.
    number : int
        Which picture of a file with several, from 1.

    Raises
    ------
    ArtworkError
        If the image is damaged, too large, or has pixels that are not square.
    """
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with _own_limit():
                image = Image.open(BytesIO(data))
            frames = int(getattr(image, "n_frames", 1))
            if number > frames:
                raise ArtworkError(
                    f"{name}: there is no picture {number}; the file holds {frames}: "
                    "mend artwork.page"
                )
            if number > 1:
                image.seek(number - 1)
            columns, rows = image.size
            if columns * rows > _MOST_PIXELS:
                raise ArtworkError(
                    f"{name}: the image has {columns * rows / 1e6:.0f} million pixels; "
                    f"{_MOST_PIXELS / 1e6:.0f} million is the most; save it at a lower resolution"
                )
            stated = image.info.get("dpi")
            image.load()
            turned = ImageOps.exif_transpose(image)
            luma = _luma(turned, _stated_white(image))
    except ArtworkError as fault:
        raise ArtworkError(f"{name}: {str(fault).removeprefix(f'{name}: ')}") from None
    except MemoryError:
        raise ArtworkError(f"{name}: the image does not fit into memory; save it smaller") from None
    except Exception as fault:
        reason = " ".join(str(fault).split())[:200] or type(fault).__name__
        raise ArtworkError(f"{name}: the image cannot be read: {reason}") from None
    is_turned = turned.size != image.size
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
    return RasterImage(luma=luma, page=page, is_untold=untold, frames=frames)


@contextmanager
def _own_limit() -> Iterator[None]:
    """Leave the limit of pixels to us: the library's own is lower, and says less."""
    from PIL import Image

    theirs, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
    try:
        yield
    finally:
        Image.MAX_IMAGE_PIXELS = theirs


def auto_threshold(luma: NDArray[np.uint8] | NDArray[np.uint16]) -> float:
    """Find a threshold from an image's own greys.

    Notes
    -----
    Otsu's split (1979, A Threshold Selection Method from Gray-Level Histograms) parts the greys in
    two classes; the edge between ink and paper runs halfway between the means of both.
    """
    white = int(np.iinfo(luma.dtype).max)
    counts = np.zeros(256)
    for top in range(0, len(luma), _STRIP_ROWS):
        part = luma[top : top + _STRIP_ROWS]
        coarse = (part >> 8 if white > 255 else part).astype(np.uint8)
        counts += np.bincount(coarse.ravel(), minlength=256)
    levels = np.arange(256.0)
    below = np.cumsum(counts)[:-1]
    above = counts.sum() - below
    sums = np.cumsum(counts * levels)
    with np.errstate(divide="ignore", invalid="ignore"):
        dark, light = sums[:-1] / below, (sums[-1] - sums[:-1]) / above
        between = np.nan_to_num(below * above * (light - dark) ** 2, nan=0.0)
    split = int(np.argmax(between))
    if between[split] <= 0.0:
        return 0.5
    # A grey of k stands for k / 255, also where 16 bits were shortened.
    return float(1.0 - (dark[split] + light[split]) / 2 / 255.0)


def trace(
    luma: NDArray[np.uint8] | NDArray[np.uint16],
    *,
    threshold: float,
    mm_per_px: float,
    specks_px: float = SPECK_PX,
) -> Traced:
    """Outline what is darker than the threshold.

    Parameters
    ----------
    luma : (M, N) ndarray
        Row 0 on top.
    threshold : float
        Dark is a luma below ``1 - threshold`` of white; the outline runs where the luma,
        interpolated between pixel centres, takes that value.
    mm_per_px : float
    specks_px : float
        Dark parts and holes of less area than a disc of this diameter are cleaned away.

    Returns
    -------
    Traced
        A valid region in page mm, maybe empty.

    Raises
    ------
    ArtworkError
        If the outlines have too many points.
    """
    white = int(np.iinfo(luma.dtype).max)
    level = (1.0 - threshold) * white
    parts, specks, pinholes = _cleaned(_contour(luma, level), np.pi / 4 * specks_px**2)
    if not len(parts):
        return Traced(dark=EMPTY, specks=specks, pinholes=pinholes)
    if is_plain(luma):
        parts = _smoothed(parts, _ROOM_PLAIN_PX, None)
    else:
        room = min(_ROOM_NOISY_PX, _ROOM_GREY_PX + 3.0 * _noise(luma, level))
        parts = _smoothed(parts, room, _coverage(luma, level, white))
    # Where outlines touch, moving them leaves crumbs.
    plain, _, _ = _cleaned(_simplified(parts), _CRUMB_PX2)
    region = shapely.multipolygons(plain) if len(plain) != 1 else plain[0]
    dark = shapely.transform(region, lambda xy: xy * mm_per_px)
    return Traced(dark=dark, specks=specks, pinholes=pinholes)


def _contour(luma: NDArray[np.uint8] | NDArray[np.uint16], level: float) -> NDArray[np.object_]:
    """The dark parts of an image; refuses one whose outlines would have too many points."""
    most = min(_MOST_POINTS, max(_FEW_POINTS, int(_NOISE_SHARE * luma.size)))
    crossings = crossings_of(luma, level, most=most)
    if crossings.count > most:
        raise ArtworkError(
            f"its outlines would have {format_number(crossings.count, digits=2)} points in "
            f"{format_number(luma.size, digits=2)} pixels: it looks like a photograph or noise. "
            "Trace it by hand, blur it, save it smaller, or choose another artwork.threshold"
        )
    return outlined(luma, level, crossings)


def _parts(region: BaseGeometry) -> NDArray[Any]:
    return np.asarray(shapely.get_parts(only_areas(region)), dtype=object)


def _valid(parts: NDArray[Any]) -> NDArray[Any]:
    """Mend the polygons that touch themselves; most do not."""
    is_valid = shapely.is_valid(parts)
    if is_valid.all():
        return parts
    mended = [_parts(part) for part in shapely.make_valid(parts[~is_valid])]
    return np.concatenate([parts[is_valid], *mended])


def _cleaned(parts: NDArray[np.object_], least_px2: float) -> tuple[NDArray[np.object_], int, int]:
    """Drop parts and holes below an area; count both."""
    if least_px2 <= 0.0 or not len(parts):
        return parts, 0, 0
    rings, owner = shapely.get_rings(parts, return_index=True)
    is_outer = np.append(True, owner[1:] != owner[:-1])
    is_large = shapely.area(shapely.polygons(rings)) >= least_px2
    stays = is_large[is_outer]
    pinholes = int(np.count_nonzero(~is_large & ~is_outer & stays[owner]))
    kept = is_large & stays[owner]
    if not kept.any():
        return parts[:0], len(parts), 0
    _, whose = np.unique(owner[kept], return_inverse=True)
    cleaned: NDArray[np.object_] = shapely.polygons(rings[kept], indices=whose)
    return cleaned, int(np.count_nonzero(~stays)), pinholes


def is_plain(luma: NDArray[np.uint8] | NDArray[np.uint16]) -> bool:
    """True where the image is of black and white alone, without greys along its edges."""
    white, step = int(np.iinfo(luma.dtype).max), max(1, len(luma) // 2000)
    part = luma[::step]
    middle = np.count_nonzero((part > 0.1 * white) & (part < 0.9 * white))
    edges = np.count_nonzero((part[:, 1:] > white / 2) != (part[:, :-1] > white / 2))
    return bool(middle <= 0.02 * edges)


def _noise(luma: NDArray[np.uint8] | NDArray[np.uint16], level: float) -> float:
    """The noise of the greys (a standard deviation) as a share of the step from ink to paper.

    Neighbouring pixels of plain paper differ by the noise alone: the median of their differences
    is 0.954 standard deviations (0.6745 times the square root of two).
    """
    part = luma[:: max(1, len(luma) // 500)].astype(np.float64)
    dark, light = part[part < level], part[part >= level]
    if not dark.size or not light.size:
        return 0.0
    step = float(np.median(light) - np.median(dark))
    return float(np.median(np.abs(np.diff(part, axis=1)))) / 0.954 / max(step, 1e-9)


def _coverage(
    luma: NDArray[np.uint8] | NDArray[np.uint16], level: float, white: int
) -> Callable[[NDArray[np.int64], NDArray[np.int64]], NDArray[np.float64]]:
    """How much ink a pixel holds, if the threshold lies halfway between ink and paper."""
    sample = luma[:: max(1, len(luma) // 1000), :: max(1, luma.shape[1] // 1000)]
    dark, light = sample[sample < level], sample[sample >= level]
    ink = float(np.median(dark)) if dark.size else 0.0
    paper = float(np.median(light)) if light.size else float(white)
    half_way = paper > ink and abs((ink + paper) / 2 - level) < 0.02 * (paper - ink)
    rows, columns = luma.shape

    def covered(row: NDArray[np.int64], column: NDArray[np.int64]) -> NDArray[np.float64]:
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        grey = luma[np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)]
        share = np.clip((paper - grey.astype(np.float64)) / (paper - ink), 0.0, 1.0)
        return np.where(inside, share, 0.0)

    return covered if half_way else lambda row, column: np.full(row.shape, 0.5)


def _smoothed(
    parts: NDArray[np.object_],
    room_px: float,
    coverage: Callable[[NDArray[np.int64], NDArray[np.int64]], NDArray[np.float64]] | None,
) -> NDArray[np.object_]:
    """Straighten the parts' edges; what then runs into itself or others is united."""
    from stopout.artwork.raster.smooth import smooth_rings

    rings, owner = shapely.get_rings(parts, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    outlines = np.split(xy, np.flatnonzero(ring[1:] != ring[:-1]) + 1)
    smooth = smooth_rings(outlines, room_px=room_px, coverage=coverage)
    moved = shapely.polygons(
        shapely.linearrings(np.concatenate(smooth), indices=ring), indices=owner
    )
    crossed = _crossed(moved)
    if not crossed.any():
        return np.asarray(moved)
    # Among very many that takes too long, and such a picture has no edges worth straightening.
    if shapely.get_num_coordinates(moved[crossed]).sum() > _MOST_UNITED:
        return parts
    united = _parts(shapely.union_all(_valid(moved[crossed])))
    return np.asarray(np.concatenate([moved[~crossed], united]))


def _crossed(parts: NDArray[np.object_]) -> NDArray[np.bool_]:
    """Which parts run into themselves or into others."""
    crossed: NDArray[np.bool_] = ~shapely.is_valid(parts)
    if not crossed.any() and shapely.is_valid(shapely.multipolygons(parts)):
        return crossed
    size = shapely.get_num_coordinates(parts)
    one, other = shapely.STRtree(parts).query(parts)
    # Of each pair the larger one is prepared.
    is_pair = (size[one] > size[other]) | ((size[one] == size[other]) & (one < other))
    one, other = one[is_pair], other[is_pair]
    edges = shapely.boundary(parts)
    shapely.prepare(edges)
    meet = shapely.intersects(edges[one], edges[other])
    crossed[one[meet]] = crossed[other[meet]] = True
    return crossed


def _simplified(parts: NDArray[np.object_]) -> NDArray[np.object_]:
    """Leave out the points that the outlines do not need."""
    plain = shapely.simplify(parts, _SIMPLIFY_PX, preserve_topology=False)
    if (shapely.get_num_coordinates(plain) > 0).all() and not _crossed(plain).any():
        return np.asarray(plain)
    kept = shapely.simplify(shapely.multipolygons(parts), _SIMPLIFY_PX, preserve_topology=True)
    return _parts(kept if shapely.is_valid(kept) else shapely.make_valid(kept))


def _resolution(stated: object, is_turned: bool) -> tuple[float | None, float | None]:
    if not isinstance(stated, tuple) or len(stated) != 2:
        return None, None
    try:
        across, down = float(stated[0]), float(stated[1])
    except (TypeError, ValueError, ArithmeticError):
        return None, None
    # One dot per inch is how files say that only the proportions are known.
    if not (np.isfinite(across) and np.isfinite(down)) or min(across, down) <= 1.0:
        return None, None
    return (down, across) if is_turned else (across, down)


def _luma(image: Any, white: float | None = None) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """Rec. 709 luma of the sRGB values, transparency over white; `white` is what deep greys say."""
    mode = image.mode
    if is_deep(mode):
        return _deep_luma(np.asarray(image), white)
    if mode in ("1", "L") and "transparency" not in image.info:
        return np.asarray(image.convert("L"))
    columns, rows = image.size
    result = np.empty((rows, columns), dtype=np.uint8)
    height = max(1, 4_000_000 // max(columns, 1))
    for top in range(0, rows, height):
        strip = image.crop((0, top, columns, min(top + height, rows)))
        strip = strip.convert("RGB") if mode == "CMYK" else strip
        part = np.asarray(strip.convert("RGBA"), dtype=np.float32)
        alpha = part[..., 3] / 255.0
        grey = luma_of_pixels(part)
        result[top : top + height] = np.rint(grey * alpha + 255.0 * (1.0 - alpha))
    return result


def is_deep(mode: str) -> bool:
    """Whether an image of the library's mode holds greys of more than 8 bits."""
    return mode.startswith("I;16") or mode in ("I", "F")


def _stated_white(image: Any) -> float | None:
    """The grey that a TIFF says is its lightest, as files of fewer bits in a wider word do.

    MaxSampleValue, tag 281 of TIFF 6.0.
    """
    value = getattr(image, "tag_v2", {}).get(281)
    value = value[0] if isinstance(value, tuple) and value else value
    return float(value) if isinstance(value, int | float) and value > 0 else None


def _deep_luma(pixels: NDArray[Any], stated: float | None = None) -> NDArray[np.uint16]:
    """Greys of 16 or 32 bits, or floating point ones from 0 to 1, as 16 bits."""
    if pixels.dtype.kind == "f":
        if not np.isfinite(pixels).all():
            raise ArtworkError("the image holds greys that are no numbers; save it as 8 or 16 bit")
        most = float(pixels.max(initial=0.0))
        full = 1.0 if most <= 1.0 else (255.0 if most <= 255.0 else 65535.0)
    else:
        high = int(pixels.max(initial=0))
        full = 65535.0 if high <= 65535 else 2.0**32 - 1
        if stated is not None and high <= stated <= full:
            full = stated
        elif 0 < high <= _MOST_OF_12_BITS:
            raise ArtworkError(
                f"its greys reach no higher than {high} of {full:.0f}, all of them near black, as "
                "10 or 12 bits are in a file that does not say so; save it as 8 bit, white as white"
            )
    result = np.empty(pixels.shape, dtype=np.uint16)
    for top in range(0, len(pixels), _STRIP_ROWS):
        part = pixels[top : top + _STRIP_ROWS].astype(np.float64) / full
        result[top : top + _STRIP_ROWS] = np.clip(np.rint(part * 65535.0), 0, 65535)
    return result
