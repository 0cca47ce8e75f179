"""Regions and colours as pixels: which colour, and which region, holds each pixel's centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from stopout.values import ColourPicture, FloatArray

# Channels of one drawn colour may differ by so much: rounding of opacity.
_SAME = 3
# Colours that cover less than this are remnants of edges.
_LEAST_MM2 = 0.02
# A plain drawing has no more colours than this; a picture or gradient has hundreds.
_MOST_COLOURS = 40
# What the most frequent colours leave over, as a share of the painted area, is tones.
_TONED_SHARE = 0.02
_POLYGON = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Palette:
    """The colours of a picture, the largest first, and each pixel's: -1 where none is.

    `toned_share` is the share of the painted area in colours too many to be drawn plain.
    """

    colours: tuple[str, ...]
    labels: NDArray[np.int16]
    toned_share: float


def palette_of(picture: ColourPicture, within: NDArray[np.bool_]) -> Palette:
    """Find the plain colours of a picture.

    Parameters
    ----------
    picture : ColourPicture
        The rendering.
    within : (M, N) ndarray of bool
        Pixels that count.
    """
    counts, of, values = _counted(picture, within)
    home = _merged(values, counts)
    area = np.bincount(home, counts, len(values)) * picture.px_mm**2
    kept = [int(k) for k in np.argsort(-area, kind="stable") if area[k] > _LEAST_MM2]
    kept = kept[:_MOST_COLOURS]
    number = np.full(len(values), -1, dtype=np.int16)
    number[kept] = np.arange(len(kept), dtype=np.int16)
    labels = np.full(within.shape, -1, dtype=np.int16)
    labels[within] = number[home][of]
    left = 1.0 - area[kept].sum() / max(area.sum(), 1e-12)
    colours = tuple(
        f"#{v >> 16 & 255:02x}{v >> 8 & 255:02x}{v & 255:02x}" for v in values[kept].tolist()
    )
    return Palette(colours=colours, labels=labels, toned_share=float(left))


def _counted(
    picture: ColourPicture, within: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Count the distinct colours: counts, each pixel's number, the colours as 0xrrggbb."""
    # One number a pixel, the last byte free.
    wide = np.zeros((*within.shape, 4), dtype=np.uint8)
    wide[..., :3] = picture.rgb
    packed = wide.view(np.uint32)[..., 0][within]
    # Most pixels are like the one before: only where the colour changes is there a new one.
    changes = np.ones(len(packed), dtype=bool)
    np.not_equal(packed[1:], packed[:-1], out=changes[1:])
    starts = np.flatnonzero(changes)
    rgb = packed[starts].view(np.uint8).reshape(-1, 4).astype(np.int64)
    values, number = np.unique(rgb[:, 0] << 16 | rgb[:, 1] << 8 | rgb[:, 2], return_inverse=True)
    runs = np.diff(starts, append=len(packed))
    counts = np.bincount(number, runs, len(values)).astype(np.int64)
    return counts, np.repeat(number, runs), values


def _merged(values: NDArray[np.int64], counts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give each colour to the most frequent one that is the same but for rounding."""
    channels = np.stack([values >> 16 & 255, values >> 8 & 255, values & 255], axis=1)
    home = np.full(len(values), -1, dtype=np.int64)
    for k in np.argsort(-counts, kind="stable")[:_MOST_COLOURS]:
        if home[k] >= 0:
            continue
        near = np.abs(channels - channels[k]).max(axis=1) <= _SAME
        home[near & (home < 0)] = k
    alone = home < 0
    home[alone] = np.flatnonzero(alone)
    return home


def inside(region: BaseGeometry, picture: ColourPicture) -> NDArray[np.bool_]:
    """Tell which pixels' centres lie in a region as seen, in mm (even-odd along each row)."""
    return np.asarray(first_holding([region], picture) == 0)


def first_holding(regions: Sequence[BaseGeometry], picture: ColourPicture) -> NDArray[np.int16]:
    """Tell which region holds each pixel's centre, the first of several; -1 where none does.

    Parameters
    ----------
    regions : sequence of BaseGeometry
        As seen, in mm.
    picture : ColourPicture
        Whose pixels are meant.
    """
    shape = picture.is_painted.shape
    found = np.full(shape, -1, dtype=np.int16)
    for begin in range(0, len(regions), 8):
        eight = regions[begin : begin + 8]
        flips = np.zeros((shape[0], shape[1] + 1), dtype=np.uint8)
        for k, region in enumerate(eight):
            flips.ravel()[_crossed(region, picture)] ^= np.uint8(1 << k)
        holds = np.bitwise_xor.accumulate(flips, axis=1, out=flips)[:, : shape[1]]
        # The lowest bit that is set.
        first = np.array([-1, *(begin + (n & -n).bit_length() - 1 for n in range(1, 256))])
        found = (
            np.where(found < 0, first.astype(np.int16)[holds], found)
            if begin
            else (first.astype(np.int16)[holds])
        )
    return found


def _crossed(region: BaseGeometry, picture: ColourPicture) -> NDArray[np.int64]:
    """Return where rows of pixels cross a region's edge an odd number of times, flattened."""
    rows, columns = picture.is_painted.shape
    starts, ends = _edges(region, picture)
    rising = starts[:, 1] <= ends[:, 1]
    low, high = np.where(rising[:, None], starts, ends), np.where(rising[:, None], ends, starts)
    first = np.clip(np.ceil(low[:, 1] - 0.5), 0, rows).astype(np.int64)
    after = np.clip(np.ceil(high[:, 1] - 0.5), 0, rows).astype(np.int64)
    many = after - first
    of = np.repeat(np.arange(len(many)), many)
    row = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many) + first[of]
    part = (row + 0.5 - low[of, 1]) / (high[of, 1] - low[of, 1])
    x = low[of, 0] + part * (high[of, 0] - low[of, 0])
    column = np.clip(np.ceil(x - 0.5), 0, columns).astype(np.int64)
    at, times = np.unique(row * (columns + 1) + column, return_counts=True)
    return np.asarray(at[times & 1 == 1])


def _edges(region: BaseGeometry, picture: ColourPicture) -> tuple[FloatArray, FloatArray]:
    """Return the edges of all rings in pixels: (n, 2) starts and ends."""
    parts = shapely.get_parts(region)
    rings = shapely.get_rings(parts[shapely.get_type_id(parts) == _POLYGON])
    xy, of = shapely.get_coordinates(rings, return_index=True)
    corner = np.array([picture.left_mm, picture.top_mm])
    xy = (xy - corner) * (np.array([1.0, -1.0]) / picture.px_mm)
    is_edge = of[1:] == of[:-1]
    return xy[:-1][is_edge], xy[1:][is_edge]


def beyond_edges(labels: NDArray[np.int16], band_px: float) -> NDArray[np.bool_]:
    """Tell which pixels lie farther than a band from every edge between two colours.

    Parameters
    ----------
    labels : (M, N) ndarray of int16
        The colour of each pixel.
    band_px : float
        Width of the band in pixels.
    """
    plain = np.ones(labels.shape, dtype=np.uint8)
    down, across = labels[1:] != labels[:-1], labels[:, 1:] != labels[:, :-1]
    plain[1:][down] = 0
    plain[:-1][down] = 0
    plain[:, 1:][across] = 0
    plain[:, :-1][across] = 0
    # From a pixel's centre to that of the nearest pixel at an edge: the edge is half a pixel on.
    if band_px - 0.5 < 1.0:
        return plain.astype(bool) if band_px >= 0.5 else np.ones(labels.shape, dtype=bool)
    import cv2

    apart = cv2.distanceTransform(plain, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(apart + 0.5 > band_px)
