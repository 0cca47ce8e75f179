"""Sizes and frames of artwork: the one place where a drawing's frame turns into the blank's.

A file has its *page* frame: mm from the page's upper left corner, y down, as vector and raster
files count. The blank's frame *as seen* has its origin at the lower left and y up. `place` goes
from the first to the second; nothing else in this package turns an axis, and nothing mirrors.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.rigid import laid_by_steps
from stopout.errors import ArtworkError
from stopout.job.record import ArtworkRequest, Blank

MM_PER_INCH = 25.4
# CSS Values and Units Level 3, section 5.2: 1in = 2.54cm = 96px.
PX_PER_INCH = 96.0
_LARGEST_MM = 5000.0
_SMALLEST_MM = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page as the file states it.

    Attributes
    ----------
    width, height : float
        Size in the file's own unit (px of a vector file, pixels of an image).
    mm_per_unit : float or None
        The size of that unit by the file's own word; None where the file states no size.
    kind : str
        What to call it in a message: "SVG", "PDF", "DXF" or "image".
    is_untold : bool
        True where the size of the unit is a custom of screens rather than the file's own word.
    """

    width: float
    height: float
    mm_per_unit: float | None
    kind: str
    is_untold: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """How page millimetres (y down) go onto the blank (y up).

    `left_mm`, `top_mm` are what is added after `scale` and the turn of the y axis:
    ``x = left + scale * x_page``, ``y = top - scale * y_page``.
    """

    scale: float
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float

    def point(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Return where a point of the page lies on the blank, as seen."""
        return (self.left_mm + self.scale * x_mm, self.top_mm - self.scale * y_mm)


def page_scale(page: Page, request: ArtworkRequest, *, name: str) -> float:
    """Return millimetres per unit of the page, as far as it is known before the ink is.

    With ``box = "ink"`` a requested width or height can only be met once the ink's box is known;
    the value returned then is the file's own scale, or one that makes the page as large as the
    request, and `placement` supplies the rest.

    Raises
    ------
    ArtworkError
        If neither the request nor the file says how large the artwork is, or if it comes out
        larger than 5 m or smaller than 0.1 mm.
    """
    if request.width_mm is not None:
        scale = request.width_mm / page.width
    elif request.height_mm is not None:
        scale = request.height_mm / page.height
    elif request.resolution_dpi is not None:
        if page.kind != "image":
            raise ArtworkError(
                f"{name}: a resolution says nothing about a {page.kind} file; "
                "give artwork.width, artwork.height or artwork.scale instead"
            )
        scale = MM_PER_INCH / request.resolution_dpi
    elif page.mm_per_unit is None:
        wanted = (
            "artwork.width or artwork.height"
            if page.kind in ("SVG", "DXF")
            else "artwork.width, artwork.height or artwork.resolution"
        )
        raise ArtworkError(
            f"{name}: the {page.kind} does not say how large it is; "
            f'give {wanted} in the job file, for example width = "92 mm"'
        )
    else:
        scale = page.mm_per_unit * (1.0 if request.scale is None else request.scale)
    _check_size(page.width * scale, page.height * scale, name=name)
    return scale


def placement(
    *,
    page_mm: tuple[float, float],
    ink_mm: tuple[float, float, float, float],
    request: ArtworkRequest,
    blank: Blank,
    name: str,
) -> Placement:
    """Find where the page goes on the blank.

    Parameters
    ----------
    page_mm : (width, height)
        The page at the scale of `page_scale`.
    ink_mm : (x0, y0, x1, y1)
        Bounds of what is dark, in the page's frame at that scale.

    Raises
    ------
    ArtworkError
        If the ink has no extent in the direction that the request measures.
    """
    if request.box == "page":
        box = (0.0, 0.0, page_mm[0], page_mm[1])
    else:
        box = ink_mm
    scale = 1.0
    if request.box == "ink":
        wide, high = box[2] - box[0], box[3] - box[1]
        if request.width_mm is not None:
            scale = request.width_mm / wide
        elif request.height_mm is not None:
            scale = request.height_mm / high
    width, height = (box[2] - box[0]) * scale, (box[3] - box[1]) * scale
    _check_size(width, height, name=name)
    if request.position_mm is None:
        left, bottom = (blank.width_mm - width) / 2, (blank.height_mm - height) / 2
    else:
        left, bottom = request.position_mm
    return Placement(
        scale=scale,
        left_mm=round(left - scale * box[0], 6),
        top_mm=round(bottom + height + scale * box[1], 6),
        width_mm=round(width, 9),
        height_mm=round(height, 9),
    )


def place(regions: Sequence[BaseGeometry], where: Placement) -> list[BaseGeometry]:
    """Carry regions from the page's frame (mm, y down) to the blank's (mm, y up, as seen)."""

    def carry(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(
            [where.left_mm + where.scale * xy[:, 0], where.top_mm - where.scale * xy[:, 1]]
        )

    return laid_by_steps(shapely.transform(np.array(regions, dtype=object), carry).tolist())


def _check_size(width_mm: float, height_mm: float, *, name: str) -> None:
    largest = max(width_mm, height_mm)
    if not largest <= _LARGEST_MM:
        raise ArtworkError(
            f"{name}: the artwork comes out {width_mm:.4g} x {height_mm:.4g} mm; "
            f"{_LARGEST_MM:g} mm is the most; check artwork.width, scale or resolution"
        )
    if largest < _SMALLEST_MM:
        raise ArtworkError(
            f"{name}: the artwork comes out {width_mm:.4g} x {height_mm:.4g} mm; "
            f"{_SMALLEST_MM:g} mm is the least; check artwork.width, scale or resolution"
        )
