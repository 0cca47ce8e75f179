"""Rules and frames: areas by closed forms, on the blank as seen."""

from __future__ import annotations

from math import hypot

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from stopout.artwork.setting.fault import SettingError
from stopout.job.setting import SetFrame, SetLine

# Chords of a round corner stay this near to it.
_TOLERANCE_MM = 4e-4


def line_region(line: SetLine) -> BaseGeometry:
    """The area of a rule.

    Raises
    ------
    SettingError
        Where both ends are one place.
    """
    (x0, y0), (x1, y1) = line.from_mm, line.to_mm
    long = hypot(x1 - x0, y1 - y0)
    if long <= 0.0:
        raise SettingError("to", "is where the line starts; give its other end")
    u, v = (y0 - y1) / long * line.width_mm / 2, (x1 - x0) / long * line.width_mm / 2
    return Polygon([(x0 + u, y0 + v), (x0 - u, y0 - v), (x1 - u, y1 - v), (x1 + u, y1 + v)])


def frame_region(frame: SetFrame, blank_mm: tuple[float, float]) -> BaseGeometry:
    """The area of a frame, or of the panel within it where it is full.

    Raises
    ------
    SettingError
        Where nothing is left within its line, or its corners are larger than it is.
    """
    x0, y0, x1, y1 = _bounds(frame, blank_mm)
    if min(x1 - x0, y1 - y0) <= 0.0:
        raise SettingError("margin", "leaves no room for the frame on the blank; make it smaller")
    if frame.corner_mm > min(x1 - x0, y1 - y0) / 2 + 1e-9:
        raise SettingError(
            "corner_size",
            f"is {frame.corner_mm:.2f} mm, more than half of the frame's shorter side; "
            f"{min(x1 - x0, y1 - y0) / 2:.2f} mm is the most",
        )
    outer = _cornered(x0, y0, x1, y1, frame.corner, frame.corner_mm)
    if frame.width_mm is None:
        return outer
    w = frame.width_mm
    if 2 * w >= min(x1 - x0, y1 - y0):
        raise SettingError("width", "leaves nothing within the frame; leave it out for a panel")
    # The line keeps its width round the corners: the inner edge is everywhere w from the outer.
    inner = _inner(frame, x0, y0, x1, y1)
    return shapely.difference(outer, inner)


def _bounds(frame: SetFrame, blank_mm: tuple[float, float]) -> tuple[float, float, float, float]:
    if frame.at_mm is not None and frame.size_mm is not None:
        (x, y), (wide, high) = frame.at_mm, frame.size_mm
        return x, y, x + wide, y + high
    margin = frame.margin_mm or 0.0
    return margin, margin, blank_mm[0] - margin, blank_mm[1] - margin


def _inner(frame: SetFrame, x0: float, y0: float, x1: float, y1: float) -> BaseGeometry:
    w, size = frame.width_mm or 0.0, frame.corner_mm
    if frame.corner == "round":
        size = max(0.0, size - w)
    elif frame.corner == "cut":
        # Both slanting edges are w apart: the legs shrink by w (2 - sqrt 2).
        size = max(0.0, size - w * (2.0 - 2.0**0.5))
    elif frame.corner == "scooped":
        return _scooped(x0 + w, y0 + w, x1 - w, y1 - w, (x0, y0, x1, y1), size + w)
    return _cornered(x0 + w, y0 + w, x1 - w, y1 - w, frame.corner, size)


def _cornered(x0: float, y0: float, x1: float, y1: float, corner: str, size: float) -> BaseGeometry:
    if corner == "square" or size <= 0.0:
        return box(x0, y0, x1, y1)
    if corner == "scooped":
        return _scooped(x0, y0, x1, y1, (x0, y0, x1, y1), size)
    if corner == "cut":
        s = size
        return Polygon([(x0 + s, y0), (x1 - s, y0), (x1, y0 + s), (x1, y1 - s), (x1 - s, y1),
                        (x0 + s, y1), (x0, y1 - s), (x0, y0 + s)])  # fmt: skip
    turns = np.linspace(0.0, np.pi / 2, _steps(size) + 1)
    points: list[np.ndarray[tuple[int, int], np.dtype[np.float64]]] = []
    for k, (cx, cy) in enumerate(
        ((x1 - size, y0 + size), (x1 - size, y1 - size), (x0 + size, y1 - size),
         (x0 + size, y0 + size))
    ):  # fmt: skip
        angle = turns + (k - 1) * np.pi / 2
        points.append(np.column_stack([cx + size * np.cos(angle), cy + size * np.sin(angle)]))
    return Polygon(np.concatenate(points))


def _scooped(
    x0: float,
    y0: float,
    x1: float,
    y1: float,
    corners: tuple[float, float, float, float],
    size: float,
) -> BaseGeometry:
    """A rectangle less quarter discs about the corners of the frame's outer edge."""
    a0, b0, a1, b1 = corners
    turns = np.linspace(0.0, 2 * np.pi, 4 * _steps(size), endpoint=False)
    discs = [
        Polygon(np.column_stack([a + size * np.cos(turns), b + size * np.sin(turns)]))
        for a in (a0, a1)
        for b in (b0, b1)
    ]
    return shapely.difference(box(x0, y0, x1, y1), shapely.union_all(discs))


def _steps(radius_mm: float) -> int:
    """Chords for a quarter turn: the sagitta r (1 - cos(step / 2)) stays below the tolerance."""
    step = 2.0 * np.arccos(max(0.0, 1.0 - _TOLERANCE_MM / radius_mm))
    return max(4, int(np.ceil(np.pi / 2 / step)))
