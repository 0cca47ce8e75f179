"""Whether a picture shows tones between ink and paper, of which a threshold makes lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stopout.artwork.raster.light import Evened, evened

# Between ink and paper: what is a fifth of the way from either. Our own rule, no source.
_BETWEEN = (0.2, 0.8)
_SIDE_PX = 5
_STRIP_ROWS = 1024
# Below so much of the picture, or with fewer different greys, there are flat colours at most.
_LEAST_SHARE = 0.02
_LEAST_LEVELS = 20.0
# It was the light alone if, evened out, no more of the tones than this is left.
_LEFT = 0.25


def middle_tones(luma: NDArray[np.uint8] | NDArray[np.uint16]) -> tuple[float, float]:
    """Measure the tones between ink and paper, away from edges.

    Parameters
    ----------
    luma : (M, N) ndarray
        0 is black, the type's largest value white.

    Returns
    -------
    share : float
        Of the pixels, those in whose 5 x 5 neighbourhood everything lies between ink and paper.
    levels : float
        How many different greys they have, each weighed by how often it occurs: the exponential of
        the entropy of their histogram (C. E. Shannon, 1948). Flat colours have a few.
    """
    import cv2

    few = _eight_bit(luma[::4, ::4])
    low, high = (float(value) for value in np.percentile(few, [1.0, 99.0]))
    if high - low < 32.0:
        low, high = 0.0, 255.0
    least, most = (low + share * (high - low) for share in _BETWEEN)
    kernel = np.ones((_SIDE_PX, _SIDE_PX), np.uint8)
    counts = np.zeros(256)
    # In strips with what lies about them, so that a picture of a whole bed fits into memory.
    for top in range(0, len(luma), _STRIP_ROWS):
        begin = max(top - _SIDE_PX, 0)
        grey = _eight_bit(luma[begin : top + _STRIP_ROWS + _SIDE_PX])
        between = (cv2.erode(grey, kernel) > least) & (cv2.dilate(grey, kernel) < most)
        own = slice(top - begin, top - begin + _STRIP_ROWS)
        counts += np.bincount(grey[own][between[own]], minlength=256)
    total = counts.sum()
    if total == 0.0:
        return 0.0, 0.0
    parts = counts[counts > 0] / total
    return float(total / luma.size), float(np.exp(-(parts * np.log(parts)).sum()))


def _eight_bit(luma: NDArray[np.uint8] | NDArray[np.uint16]) -> NDArray[np.uint8]:
    return (luma >> 8 if luma.dtype == np.uint16 else luma).astype(np.uint8, copy=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tones:
    """How much of a picture lies between ink and paper, and what that may come of.

    `share` is nought where there are flat colours at most. `even` is the picture as under even
    light, where a photograph of lines is lines then.
    """

    share: float
    even: Evened | None = None


def toned(luma: NDArray[np.uint8] | NDArray[np.uint16]) -> Tones:
    """Tell whether a picture is of continuous tone, and whether only the light on it is."""
    share, levels = middle_tones(luma)
    if share < _LEAST_SHARE or levels < _LEAST_LEVELS:
        return Tones(share=0.0)
    even = evened(luma)
    if even is not None and middle_tones(even.luma)[0] > _LEFT * share:
        even = None
    return Tones(share=share, even=even)
