"""A brute-force dose map: the largest line dose at each pixel, from the program's moves alone.

A line's dose is that of a Gaussian spot of 1/e^2 radius w moving along it (scanned lines: a
straight chord of line dose q gives q sqrt(2/pi)/w exp(-2 y^2/w^2) (erf(..) - erf(..))/2). Doses of
what lies within `WINDOW` w along the same unbroken path are one line and are summed; those of
different lines are not: the largest counts. Only the moves are read, nothing of the planner.
"""

from __future__ import annotations

import numpy as np
from scipy.special import erf

from planning.plain_reading import peak_speeds, runs, vertex_speeds

WINDOW = 2.5
PITCH = 0.005


def lit_runs(steps, machine, *, line_dose):
    """Unbroken beam-on paths as (points, dose relative to `line_dose` of each chord)."""
    v, top = vertex_speeds(steps, machine), peak_speeds(steps, machine)
    number = {id(step): k for k, step in enumerate(steps)}
    found = []
    for run in runs(steps):
        points = np.array([run[0].a, *(step.b for step in run)])
        dose = []
        for step in run:
            k = number[id(step)]
            dose.append(step.power / ((min(v[k], v[k + 1]) + top[k]) / 2) / line_dose)
        found.append((points, np.array(dose)))
    return found


def dose_map(found, *, radius, low, high, ratio):
    """Largest dose over threshold at each pixel, (rows, columns), and the pixels' centres.

    `radius` is w along x and y; `ratio` the dose ratio of a line at the intended dose.
    """
    stretch = np.array([1.0, radius[0] / radius[1]])
    w = radius[0]
    xs = np.arange(low[0], high[0], PITCH) + PITCH / 2
    ys = np.arange(low[1], high[1], PITCH) + PITCH / 2
    best = np.zeros((len(ys), len(xs)))
    for points, dose in found:
        path = points * stretch
        length = np.hypot(*np.diff(path, axis=0).T)
        at = np.concatenate([[0.0], np.cumsum(length)])
        for k in range(len(length)):
            if length[k] == 0:
                continue
            near = (at[1:] > at[k] - WINDOW * w) & (at[:-1] < at[k + 1] + WINDOW * w)
            pad = 1.1 * w
            a, b = np.minimum(path[k], path[k + 1]) - pad, np.maximum(path[k], path[k + 1]) + pad
            i0, i1 = np.searchsorted(xs, (a[0], b[0]))
            j0, j1 = np.searchsorted(ys, (a[1] / stretch[1], b[1] / stretch[1]))
            px, py = np.meshgrid(xs[i0:i1], ys[j0:j1] * stretch[1])
            total = np.zeros_like(px)
            for m in np.flatnonzero(near & (length > 0)):
                step = (path[m + 1] - path[m]) / length[m]
                dx, dy = px - path[m, 0], py - path[m, 1]
                along, across = dx * step[0] + dy * step[1], dy * step[0] - dx * step[1]
                share = erf(np.sqrt(2) * along / w) - erf(np.sqrt(2) * (along - length[m]) / w)
                total += dose[m] * np.exp(-2 * (across / w) ** 2) * share / 2
            np.maximum(best[j0:j1, i0:i1], total, out=best[j0:j1, i0:i1])
    return ratio * best, np.stack(np.meshgrid(xs, ys), axis=-1)
