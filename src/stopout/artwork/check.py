"""Hold an imported drawing against an independent rendering of the file it came from.

The reading road (normaliser, own parser, own fill and paint rules) is checked by rendering the
file itself with resvg, which shares none of it, and our own regions next to it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.covered import covered
from stopout.artwork.regions.painter import Paint
from stopout.artwork.renderer import rendered, typefaces_of
from stopout.artwork.scale import Page
from stopout.artwork.tone import Colour, luma, luma_of_pixels

_MOST_PIXELS = 700_000
# A document that says itself what it shows beyond its page is left to the renderer.
_OWN_CLIP = b"overflow"
_ROOT = re.compile(r"<(?:[\w.-]+:)?svg(?=[\s>])")
_FINEST_PX_PER_MM = 12.0
# Anti-aliasing of edges that coincide differs by up to a quarter between one shape and two.
_DIFFERENT = 0.42
_WHITE_ABOVE, _BLACK_BELOW = 0.98, 0.02
# A pixel of ours that is surely dark; so much below 1, surely light.
_CLEARLY = 0.75
# The tip of a thin point is darker in one rendering than in the other: of less nothing is told.
_LEAST_MM2 = 0.005
# So much of its colour a pixel shows at least that is clearly covered in ours: three quarters,
# less the quarter by which the renderer's own edges differ.
_PALEST = 0.5

# Tiles that drift put up to a fifth more or less ink about a place.
_SHARE_APART = 0.2
_ZERO = 0  # cv2.BORDER_CONSTANT


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """A place where the drawing and the rendering differ.

    `at_mm` is its middle in the page's frame (y down), `area_mm2` how much differs.
    """

    at_mm: tuple[float, float]
    area_mm2: float
    is_missing: bool


def differences(
    svg: bytes,
    page: Page,
    paints: Sequence[Paint],
    dark: BaseGeometry,
    *,
    mm_per_px: float,
    threshold: float,
    fonts: Sequence[Path] | None = None,
    tiled: Sequence[tuple[BaseGeometry, float]] = (),
) -> list[Disagreement]:
    """Compare what was read with a rendering of the file.

    Parameters
    ----------
    svg : bytes
        The document as it came, or as it was made safe.
    paints : sequence of Paint
        As read, in painting order, in page mm.
    dark : BaseGeometry
        What came out dark, in page mm.
    fonts : sequence of Path, optional
        Font files besides the one shipped; None where the document holds no text.
    tiled : sequence of (BaseGeometry, float)
        What a pattern fills, and how large a tile of it is, in mm. The renderer rounds tiles to
        whole pixels, so that they drift: there the share of ink about each place is compared.

    Returns
    -------
    list of Disagreement
        Largest first; empty where both agree.

    Notes
    -----
    Where every paint is opaque black or white, grey values are compared pixel by pixel, so that a
    lost hairline shows. Else the paints are compared in their own colours and the dark region
    only away from edges, where the grey of an anti-aliased pixel says nothing about darkness.
    """
    wide, high = page.width * mm_per_px, page.height * mm_per_px
    per_mm = min(_FINEST_PX_PER_MM, (_MOST_PIXELS / (wide * high)) ** 0.5)
    px_per_unit = per_mm * mm_per_px
    seen = render_svg(svg, page, px_per_unit=px_per_unit, fonts=fonts)
    size = (seen.shape[1], seen.shape[0])
    ours = render_regions([(dark, (0.0, 0.0, 0.0), 1.0)], size, px_per_mm=per_mm)
    shares = last_shares(svg, page, px_per_unit=px_per_unit)
    asked = _as_it_may_be(seen, ours, shares)
    wrong = np.abs(asked - ours) > _DIFFERENT
    is_plain = all(p.alpha == 1.0 and _is_plain(p.colour) for p in paints)
    if not (is_plain and 0.02 < threshold < 0.98) or wrong.any():
        # Shapes that lie on top of each other darken each other's edges: only the paints one by
        # one show the same.
        painted = render_regions(
            [(p.region, p.colour, p.alpha) for p in paints], size, px_per_mm=per_mm
        )
        differs = np.abs(_as_it_may_be(seen, painted, shares) - painted) > _DIFFERENT
        wrong = wrong & differs if is_plain else differs
        wrong |= _of_the_other_tone(1.0 - asked, 1.0 - ours, threshold)
        wrong |= _of_the_other_tone(asked, ours, 1.0 - threshold)
    if len(tiled) and wrong.any():
        filled = [(region, (0.0, 0.0, 0.0), 1.0) for region, _ in tiled]
        within = render_regions(filled, size, px_per_mm=per_mm) < 1.0
        side = 3.0 * max(tile for _, tile in tiled) * per_mm
        wrong = wrong & ~_near(within) | _shares_differ(asked, ours, within, side)
    return _places(wrong, asked, ours, per_mm)


def render_svg(
    svg: bytes, page: Page, *, px_per_unit: float, fonts: Sequence[Path] | None = None
) -> NDArray[np.float32]:
    """Render a safe document over white.

    Returns
    -------
    (M, N) ndarray of float32
        Luma 0..1, row 0 on top; pixel (row, col) covers the square from ``col / px_per_unit``.
    """
    seen = _render(framed(svg, page, px_per_unit=px_per_unit), fonts=fonts)
    right, below = last_shares(svg, page, px_per_unit=px_per_unit)
    seen[:, -1] = 1.0 - right * (1.0 - seen[:, -1])
    seen[-1] = 1.0 - below * (1.0 - seen[-1])
    return seen


def _frame(page: Page, px_per_unit: float) -> tuple[int, int]:
    """Columns and rows of pixels that hold a page."""
    columns, rows = (
        max(1, int(np.ceil(side * px_per_unit - 1e-9))) for side in (page.width, page.height)
    )
    return columns, rows


def last_shares(svg: bytes, page: Page, *, px_per_unit: float) -> tuple[float, float]:
    """Return how much of what shows in the last column and row of pixels lies on the page."""
    if _OWN_CLIP in svg:
        return 1.0, 1.0
    columns, rows = _frame(page, px_per_unit)
    right, below = page.width * px_per_unit - columns + 1, page.height * px_per_unit - rows + 1
    return min(right, 1.0), min(below, 1.0)


def framed(svg: bytes, page: Page, *, px_per_unit: float) -> str:
    """Put a document into a frame of whole pixels, so many for each px of its page.

    What lies beyond the page shows in the last column and row, as far as these reach beyond it
    (`last_shares`): the page's own clip took the renderer six times as long as all the rest.
    """
    columns, rows = _frame(page, px_per_unit)
    # The renderer rounds a document's size to whole pixels before it scales: the document goes
    # into a frame whose own size is whole.
    text = svg.decode("utf-8")
    text = re.sub(r"^\s*<\?xml[^>]*\?>", "", text)
    text = re.sub(r"<!DOCTYPE[^>]*>", "", text, count=1)
    if _OWN_CLIP not in svg:
        text = _ROOT.sub(r'\g<0> overflow="visible"', text, count=1)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{columns}" height="{rows}" '
        f'viewBox="0 0 {columns / px_per_unit!r} {rows / px_per_unit!r}" '
        f'preserveAspectRatio="none">{text}</svg>'
    )


def render_regions(
    regions: Sequence[tuple[BaseGeometry, Colour, float]],
    size: tuple[int, int],
    *,
    px_per_mm: float,
) -> NDArray[np.float32]:
    """Render regions in page mm over white, in order, as `render_svg` does a document.

    Each pixel is mixed by the share of it that a region covers, exactly.
    """
    columns, rows = size
    seen = np.ones((rows, columns), dtype=np.float32)
    for region, colour, alpha in regions:
        if region.is_empty:
            continue
        own = shapely.transform(region, lambda xy: xy * px_per_mm)
        low, high = np.floor(own.bounds[:2]), np.ceil(own.bounds[2:])
        left, top = np.clip(low, 0, size).astype(int).tolist()
        right, below = np.clip(high, (left, top), size).astype(int).tolist()
        share = covered(affinity.translate(own, -left, -top), (right - left, below - top))
        under = seen[top:below, left:right]
        under += alpha * share * (luma(colour) - under)
    return seen


def _render(svg: str, *, fonts: Sequence[Path] | None = None) -> NDArray[np.float32]:
    from PIL import Image

    png = rendered(
        "the check rendering cannot draw it; save it again, or simplify it",
        svg_string=svg,
        dpi=96,
        background="white",
        languages=["en"],
        **typefaces_of(fonts),
    )
    with Image.open(BytesIO(png)) as image:
        rgb = np.asarray(image.convert("RGB"), dtype=np.float32)
    return luma_of_pixels(rgb) / np.float32(255.0)


def _is_plain(colour: Colour) -> bool:
    return luma(colour) < _BLACK_BELOW or luma(colour) > _WHITE_ABOVE


def _as_it_may_be(
    asked: NDArray[np.float32], ours: NDArray[np.float32], shares: tuple[float, float]
) -> NDArray[np.float32]:
    """What may show in the last column and row of pixels, as near to ours as it can be.

    Of a pixel that lies on the page by a share, the part that is inked may be that share or not.
    """
    asked = asked.copy()
    edges = ((asked[:, -1], ours[:, -1]), (asked[-1], ours[-1]))
    for share, (seen, own) in zip(shares, edges, strict=True):
        if share < 1.0:
            inked = np.minimum((1.0 - seen) / max(share, 1e-6), 1.0)
            least, most = np.maximum(inked + share - 1.0, 0.0), np.minimum(inked, share)
            seen[:] = 1.0 - np.clip(1.0 - own, least, most)
    return asked


def _of_the_other_tone(
    asked: NDArray[np.float32], ours: NDArray[np.float32], threshold: float
) -> NDArray[np.bool_]:
    """Where ours has what it should not by the threshold, away from edges.

    A line thinner than a pixel is paler than its colour in both renderings: where it covers three
    quarters of a pixel in ours, and half of it in the other, it shows half its colour.
    """
    clearly = ours > _CLEARLY
    pale = _inside(asked < threshold - 0.01) & _inside(clearly)
    return pale | _inside(asked < _PALEST * threshold - 0.01) & clearly


def _inside(region: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Pixels whose eight neighbours are of the region too."""
    import cv2

    shrunk = cv2.erode(region.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=1)
    return np.asarray(shrunk, dtype=bool)


def _near(region: NDArray[np.bool_]) -> NDArray[np.bool_]:
    import cv2

    return np.asarray(cv2.dilate(region.astype(np.uint8), np.ones((3, 3), np.uint8)), dtype=bool)


def _shares_differ(
    asked: NDArray[np.float32], ours: NDArray[np.float32], within: NDArray[np.bool_], side_px: float
) -> NDArray[np.bool_]:
    """Where the mean tone over a square about a pixel differs, of the pixels within."""
    import cv2

    side = int(min(max(side_px, 9.0), 4.0 * max(asked.shape))) | 1
    weight = cv2.boxFilter(within.astype(np.float32), -1, (side, side), borderType=_ZERO)
    apart = cv2.boxFilter((asked - ours) * within, -1, (side, side), borderType=_ZERO)
    return np.asarray(within & (np.abs(apart) > _SHARE_APART * weight))


def _places(
    wrong: NDArray[np.bool_],
    asked: NDArray[np.float32],
    ours: NDArray[np.float32],
    px_per_mm: float,
) -> list[Disagreement]:
    if not wrong.any():
        return []
    import cv2

    count, labels, stats, centres = cv2.connectedComponentsWithStats(
        wrong.astype(np.uint8), connectivity=8
    )
    amount = np.bincount(labels.ravel(), np.abs(asked - ours).ravel(), count)
    signed = np.bincount(labels.ravel(), (ours - asked).ravel(), count)
    found = [
        Disagreement(
            at_mm=(
                float((centres[k][0] + 0.5) / px_per_mm),
                float((centres[k][1] + 0.5) / px_per_mm),
            ),
            area_mm2=max(float(amount[k]), float(stats[k][cv2.CC_STAT_AREA]) / 2) / px_per_mm**2,
            is_missing=bool(signed[k] > 0),
        )
        for k in range(1, count)
    ]
    found = [item for item in found if item.area_mm2 >= _LEAST_MM2]
    return sorted(found, key=lambda item: -item.area_mm2)
