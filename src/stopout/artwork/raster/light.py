"""The light on a photographed page: paper is as light everywhere once it is evened out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# All of these are our own choices, tried on drawn lights and on photographed pages.
_LONGEST_PX = 256
# Light falls smoothly: powers of x and y up to this, together, follow a lamp and a lens.
_DEGREE = 4
_ROUNDS = 25
# So much darker than the light about it is ink, so much lighter a gleam (natural logarithms).
_INK, _GLEAM = 0.10, 0.25
# Fewer pixels than this share are no page with a drawing on it.
_LEAST_PAPER = 0.4
# Light as even as this is left alone.
_LEAST_FALL = 0.1
_STRIP_ROWS = 1024


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evened:
    """A picture as under even light; `fall` is how much darker the darkest paper was."""

    luma: NDArray[np.uint8]
    fall: float


def evened(luma: NDArray[np.uint8] | NDArray[np.uint16]) -> Evened | None:
    """Divide a picture by the light on its paper.

    Parameters
    ----------
    luma : (M, N) ndarray
        0 is black, the type's largest value white.

    Returns
    -------
    Evened or None
        None where the light is even, or where most of the picture is no paper.

    Notes
    -----
    A smooth surface is fitted to the logarithm of the greys by least squares; what lies well
    below it is ink and left out, until that does not change. A surface so stiff follows no ink,
    however large, which a local mean would.
    """
    import cv2

    rows, columns = luma.shape
    shrink = min(1.0, _LONGEST_PX / max(rows, columns))
    size = (max(8, round(columns * shrink)), max(8, round(rows * shrink)))
    white = float(np.iinfo(luma.dtype).max)
    few = cv2.resize(luma, size, interpolation=cv2.INTER_AREA).astype(np.float64)
    grey = np.log(np.maximum(few / white, 1 / 255))
    powers = _powers(_middles(size[0]), _middles(size[1]))
    light = _fitted(grey, powers)
    if light is None:
        return None
    lightest, darkest = float(np.exp(light.max())), float(np.exp(light.min()))
    if 1.0 - darkest / lightest < _LEAST_FALL:
        return None
    scale = (np.exp(-light) * 255.0 / white).astype(np.float32)
    even = np.empty(luma.shape, np.uint8)
    # Between the middles of the coarse pixels, in strips: a picture of a whole bed is large.
    at = np.clip((np.arange(rows) + 0.5) * size[1] / rows - 0.5, 0, size[1] - 1)
    above = np.minimum(at.astype(int), size[1] - 2)
    share = (at - above).astype(np.float32)[:, None]
    for top in range(0, rows, _STRIP_ROWS):
        part = slice(top, top + _STRIP_ROWS)
        own = scale[above[part]] * (1 - share[part]) + scale[above[part] + 1] * share[part]
        wide = cv2.resize(own, (columns, len(own)), interpolation=cv2.INTER_LINEAR)
        even[part] = np.clip(np.rint(luma[part] * wide), 0, 255)
    return Evened(luma=even, fall=1.0 - darkest / lightest)


def _middles(count: int) -> NDArray[np.float64]:
    """The middles of so many pixels, the picture reaching from -1 to 1."""
    return (2.0 * np.arange(count) + 1.0) / count - 1.0


def _powers(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    terms = [
        np.outer(y**down, x**across).ravel()
        for down in range(_DEGREE + 1)
        for across in range(_DEGREE + 1 - down)
    ]
    return np.stack(terms, axis=1)


def _fitted(grey: NDArray[np.float64], powers: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """The surface through the paper, of the picture's own shape; None where little is paper."""
    values = grey.ravel()
    is_paper = values > np.median(values) - 1.0
    for _ in range(_ROUNDS):
        found, *_ = np.linalg.lstsq(powers[is_paper], values[is_paper], rcond=None)
        over = values - powers @ found
        now = (over > -_INK) & (over < _GLEAM)
        if np.count_nonzero(now) < _LEAST_PAPER * len(values):
            return None
        if np.array_equal(now, is_paper):
            break
        is_paper = now
    surface: NDArray[np.float64] = (powers @ found).reshape(grey.shape)
    return surface
