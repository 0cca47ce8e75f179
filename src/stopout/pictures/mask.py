"""The mask of one coat as files: filled paths in mm, and one-bit pixels of a stated size."""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.pictures.means.drawing import escaped
from stopout.pictures.means.scanline import packed_strips


def mask_svg(opening: BaseGeometry, *, width_mm: float, height_mm: float, title: str) -> bytes:
    """Write the openings of a coat as an SVG 1.1 drawing at true size, as worked.

    Parameters
    ----------
    opening : BaseGeometry
        Where the resist is cleared, in mm, as worked, y up; Polygon or MultiPolygon, maybe empty.
    width_mm, height_mm : float
        Size of the blank [mm]: the drawing's physical size and its viewBox.
    title : str
        Shown by viewers as the drawing's title.

    Returns
    -------
    bytes
        UTF-8. One black path a part, absolute coordinates in mm to 4 decimals, even-odd rule;
        the parts are ordered by their lowest left corner, so the same region gives the same bytes.
    """
    size = f'width="{width_mm:.10g}mm" height="{height_mm:.10g}mm"'
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" {size} '
        f'viewBox="0 0 {width_mm:.10g} {height_mm:.10g}">',
        f"<title>{escaped(title)}</title>",
        "<desc>Dark: resist cleared. As worked, that is, as the laser sees the piece. "
        "One unit is 1 mm.</desc>",
        '<g fill="#000" fill-rule="evenodd" stroke="none">',
    ]
    lines += [f'<path d="{_path_data(part, height_mm)}"/>' for part in _ordered_parts(opening)]
    return ("\n".join([*lines, "</g>", "</svg>"]) + "\n").encode()


def mask_png(
    opening: BaseGeometry, *, width_mm: float, height_mm: float, pixel_um: float = 10.0
) -> bytes:
    """Write the openings of a coat as a one-bit PNG with its physical resolution, as worked.

    Parameters
    ----------
    opening : BaseGeometry
        Where the resist is cleared, in mm, as worked, y up; Polygon or MultiPolygon, maybe empty.
    width_mm, height_mm : float
        Size of the blank [mm]. A last fraction of a pixel at the right and at the top counts as
        a whole one; the lower left corner is exact.
    pixel_um : float
        Side of the square pixel [um].

    Returns
    -------
    bytes
        White (1) where the pixel's centre lies in an opening, black (0) elsewhere.

    Notes
    -----
    PNG (ISO/IEC 15948) records the resolution as whole pixels a metre: 10 um pixels exactly.
    The image is made and packed in strips, so memory does not grow with the blank.
    """
    pixel_mm = pixel_um / 1000.0
    n_columns = math.ceil(width_mm / pixel_mm - 1e-6)
    n_rows = math.ceil(height_mm / pixel_mm - 1e-6)
    strips = packed_strips(opening, n_columns=n_columns, n_rows=n_rows, pixel_mm=pixel_mm)
    pixels_per_m = round(1e6 / pixel_um)
    return b"".join(
        [
            b"\x89PNG\r\n\x1a\n",
            _chunk(b"IHDR", struct.pack(">IIBBBBB", n_columns, n_rows, 1, 0, 0, 0, 0)),
            _chunk(b"pHYs", struct.pack(">IIB", pixels_per_m, pixels_per_m, 1)),
            *(_chunk(b"IDAT", data) for data in _compressed(strips)),
            _chunk(b"IEND", b""),
        ]
    )


def _ordered_parts(region: BaseGeometry) -> list[BaseGeometry]:
    parts = [part for part in shapely.get_parts(region) if part.geom_type == "Polygon"]
    return sorted(parts, key=lambda part: (part.bounds[1], part.bounds[0], part.bounds[2:]))


def _path_data(part: BaseGeometry, height_mm: float) -> str:
    """Subpaths of a polygon's rings; y turned over, because SVG counts it downwards."""
    subpaths = []
    for ring in shapely.get_rings(part):
        points = shapely.get_coordinates(ring)[:-1]
        points[:, 1] = height_mm - points[:, 1]
        numbers = (np.round(points, 4) + 0.0).ravel().tolist()
        # All numbers of a ring at once: a panel has some hundred thousand.
        subpaths.append("M" + "L".join(["%.10g,%.10g"] * len(points)) % tuple(numbers) + "Z")
    return "".join(subpaths)


def _compressed(strips: Iterable[NDArray[np.uint8]]) -> list[bytes]:
    """Deflate rows, each behind the filter byte 0 (rows as they are)."""
    packer = zlib.compressobj(level=6)
    pieces = []
    for strip in strips:
        pieces.append(packer.compress(np.pad(strip, ((0, 0), (1, 0))).tobytes()))
    pieces.append(packer.flush())
    return [piece for piece in pieces if piece]


def _chunk(kind: bytes, data: bytes) -> bytes:
    check = zlib.crc32(data, zlib.crc32(kind))
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", check)
