"""A picture made of pixels becomes lines, and what is to be said of its tones and its light."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.artwork.raster.reading import SPECK_PX, Traced, auto_threshold, is_plain, trace
from stopout.artwork.raster.tones import toned
from stopout.values import Finding

# Parts so many times as wide as dirt are crumbs, and no drawing has so many. Our own rules.
_CRUMB = 3.0
_MOST_CRUMBS = 300
# Measured on discs, lines and glyphs (docs/reference/artwork.md).
_EDGE_GREY_PX, _EDGE_PLAIN_PX = 0.25, 0.5
# An edge is two pixels wide as drawn and three to four in a good scan; a picture that was enlarged
# or is out of focus is soft. Blurred by a Gaussian of standard deviation s, a square corner recedes
# by 0.771 s, that is 0.307 times the width of its edges (both by the normal distribution).
_SOFT_PX = 5.0
_CORNER_CUT = 0.307
# Softness is looked up in so many strips of so many rows.
_STRIPS, _STRIP_ROWS = 40, 64
_ROWS_APART = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineArt:
    """What is dark in a picture, and what is to be said of how it was told.

    `edge_px` is how well its edges are known: 95 % of them, in pixels; of a soft picture, by how
    much its corners are cut.
    """

    traced: Traced
    edge_px: float
    findings: tuple[Finding, ...]


def lines_of(
    luma: NDArray[np.uint8] | NDArray[np.uint16],
    *,
    threshold: float | None,
    mm_per_px: float,
    specks_px: float = SPECK_PX,
    is_page: bool = False,
    name: str,
) -> LineArt:
    """Make lines of a picture.

    Parameters
    ----------
    luma : (M, N) ndarray
        0 is black, the type's largest value white.
    threshold : float or None
        Dark is a luma below ``1 - threshold`` of white. None: found from the picture's own greys,
        after the light of a photograph is evened out.
    mm_per_px : float
    specks_px : float
        Of less area than a disc of this diameter is dirt.
    is_page : bool
        Whether it is a rendered page, whose light is even and whose threshold is never found.
    name : str
        What messages call it.

    Returns
    -------
    LineArt
        Where nothing but crumbs comes of a photograph, that is a stop, and they are left out.
    """
    tone, fall = toned(luma), 0.0
    found = threshold
    if found is None:
        if tone.even is not None:
            luma, fall = tone.even.luma, tone.even.fall
            tone = toned(luma)
        found = auto_threshold(luma)
    told = [_threshold_told(found, fall)] if threshold is None else []
    traced = trace(luma, threshold=found, mm_per_px=mm_per_px, specks_px=specks_px)
    if tone.share:
        crumb_px = _CRUMB * max(specks_px, SPECK_PX)
        crumbs = _small(traced.dark, crumb_px * mm_per_px)
        is_flood = crumbs >= _MOST_CRUMBS
        # A rendered page has no light to even out, and where the threshold is found that is done.
        could_even = tone.even is not None and threshold is not None and not is_page
        told.append(_tones_told(tone.share, crumbs * is_flood, found, could_even, name=name))
        if is_flood:
            traced = trace(luma, threshold=found, mm_per_px=mm_per_px, specks_px=crumb_px)
    edge_px = _EDGE_PLAIN_PX
    if not is_plain(luma):
        soft_px = softness_px(luma, (1.0 - found) * np.iinfo(luma.dtype).max)
        edge_px = _EDGE_GREY_PX if soft_px < _SOFT_PX else _CORNER_CUT * soft_px
    return LineArt(traced=traced, edge_px=edge_px, findings=tuple(told))


def softness_px(luma: NDArray[np.uint8] | NDArray[np.uint16], level: float) -> float:
    """Return over how many pixels an edge runs from ink to paper: the median, by its slope.

    Parameters
    ----------
    luma : (M, N) ndarray
    level : float
        Where ink and paper part.

    Returns
    -------
    float
        Of an edge blurred by a Gaussian of standard deviation s, s times the root of 2 pi; 2 or
        more; 0 where there is no edge.
    """
    rows = len(luma)
    slopes, darks, lights = [], [], []
    for top in range(0, rows, max(_STRIP_ROWS, rows // _STRIPS)):
        part = luma[top : top + _STRIP_ROWS].astype(np.float32)
        if min(part.shape) < 2:
            continue
        down, across = np.gradient(part)
        is_dark = part < level
        beside = np.zeros_like(is_dark)
        beside[:, 1:] |= is_dark[:, 1:] != is_dark[:, :-1]
        beside[1:] |= is_dark[1:] != is_dark[:-1]
        slopes.append(np.hypot(down, across)[beside])
        # Of ink and paper a few rows tell enough.
        darks.append(part[::_ROWS_APART][is_dark[::_ROWS_APART]])
        lights.append(part[::_ROWS_APART][~is_dark[::_ROWS_APART]])
    none = np.empty(0, np.float32)
    slope, dark, light = (np.concatenate([none, *some]) for some in (slopes, darks, lights))
    if not slope.size or not dark.size or not light.size:
        return 0.0
    return float((np.median(light) - np.median(dark)) / max(np.median(slope), 1e-9))


def _small(region: BaseGeometry, across_mm: float) -> int:
    """Count the parts and holes of less area than a disc so wide."""
    rings = shapely.get_rings(shapely.get_parts(region))
    areas = shapely.area(shapely.polygons(rings))
    return int(np.count_nonzero(areas < np.pi / 4 * across_mm**2))


def _tones_told(
    share: float, crumbs: int, threshold: float, could_even: bool, *, name: str
) -> Finding:
    """Say that a picture is of continuous tone; a stop where it comes to crumbs."""
    message = (
        f"{100 * share:.0f} % of {name} are tones between ink and paper, as in a "
        f"photograph; each place is made dark or light at the threshold of {100 * threshold:.0f} %"
    )
    remedy = "Give line art, or the picture screened into dots; or compare the preview."
    if crumbs:
        remedy = "Give line art, the picture screened into dots, or a larger artwork.specks."
    if could_even:
        remedy = 'Set artwork.threshold = "auto", which evens out the light on a photographed page.'
    if crumbs:
        return Finding.stop("tones-as-lines", f"{message}: {crumbs} crumbs, left out here", remedy)
    return Finding.caution("tones-as-lines", message, remedy)


def _threshold_told(threshold: float, fall: float) -> Finding:
    light = (
        f"; the light on the page, up to {100 * fall:.0f} % darker at one place than at another, "
        "was evened out first"
        if fall
        else ""
    )
    return Finding.note(
        "artwork-threshold",
        f"the threshold was found from the picture's greys: {100 * threshold:.0f} %{light}",
        remedy="Compare the preview with the artwork, or give artwork.threshold.",
    )
