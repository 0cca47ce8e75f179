"""Small programs and the plain brute force that they are checked against."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from stopout.values import Moves


def moves_along(*paths, power=0.3):
    """Moves that travel to each path's first point and follow it with the beam on."""
    x, y, lit = [], [], []
    for path in paths:
        for number, (px, py) in enumerate(path):
            x.append(px)
            y.append(py)
            lit.append(number > 0)
    on = np.array(lit, dtype=bool)
    return Moves(
        x_mm=np.array(x, dtype=float),
        y_mm=np.array(y, dtype=float),
        rapid=~on,
        speed_mm_s=np.where(on, 20.0, 100.0),
        power=np.where(on, power, 0.0),
    )


def grid(low, high, pitch_mm):
    """Points of a square grid, (rows, columns, 2)."""
    xs = np.arange(low[0], high[0], pitch_mm)
    ys = np.arange(low[1], high[1], pitch_mm)
    return np.stack(np.meshgrid(xs, ys), axis=-1)


def distance_to_paths(points, paths, stretch=(1.0, 1.0)):
    """Distance of each point to the nearest beam-on step, step by step, in a stretched plane."""
    stretch = np.asarray(stretch)
    points = points * stretch
    best = np.full(points.shape[:-1], np.inf)
    for path in paths:
        corners = np.asarray(path, dtype=float) * stretch
        for a, b in pairwise(corners):
            step = b - a
            square = float(step @ step)
            if square:
                along = np.clip(((points - a) @ step) / square, 0, 1)
            else:
                along = np.zeros(points.shape[:-1])
            off = points - a - along[..., None] * step
            best = np.minimum(best, np.hypot(off[..., 0], off[..., 1]))
    return best
