"""What counts as dark: the one rule for every format that is read.

The luma is that of ITU-R BT.709-6, item 3.2, of the sRGB values over white, and a place is dark
where it lies below 1 - threshold. Vector paints, pixels, rendered pages and check renderings all
ask here, so that the same drawing is judged alike whatever file it comes in.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Colour = tuple[float, float, float]
_RED, _GREEN, _BLUE = 0.2126, 0.7152, 0.0722
_ROWS = 512


def luma(colour: Colour) -> float:
    """Rec. 709 luma of sRGB values 0..255, as a fraction."""
    return (_RED * colour[0] + _GREEN * colour[1] + _BLUE * colour[2]) / 255.0


def is_dark(colour: Colour, *, threshold: float) -> bool:
    """Whether a plain colour over white counts as dark."""
    return luma(colour) < 1.0 - threshold


def luma_of_pixels(rgb: NDArray[Any]) -> NDArray[np.float32]:
    """Return the luma of pixels, in the unit of their channels.

    Parameters
    ----------
    rgb : (M, N, 3 or more) ndarray
        Red, green and blue of sRGB; further channels are ignored.

    Returns
    -------
    (M, N) ndarray of float32
    """
    weights = np.array([_RED, _GREEN, _BLUE], dtype=np.float32)
    grey = np.empty(rgb.shape[:2], dtype=np.float32)
    for top in range(0, len(rgb), _ROWS):
        grey[top : top + _ROWS] = rgb[top : top + _ROWS, :, :3].astype(np.float32) @ weights
    return grey
