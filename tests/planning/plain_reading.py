"""A second, plain reading of a written program, for judging the first: text, motion, sweep.

Nothing here calls the project: the text is read word by word, speeds are planned one vertex at a
time, and what is cleared is found by the distance of points to the beam's path.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np


@dataclass(frozen=True)
class Step:
    """One straight move as the text has it; `power` is the S word over the full one."""

    a: tuple[float, float]
    b: tuple[float, float]
    is_travel: bool
    speed: float
    power: float

    @property
    def length(self):
        return math.dist(self.a, self.b)

    @property
    def is_on(self):
        return self.power > 0

    @property
    def heading(self):
        return math.atan2(self.b[1] - self.a[1], self.b[0] - self.a[0])


def read_steps(text, machine):
    """Read word-address text (ISO 6983-1: words are modal) from rest at (0, 0)."""
    x = y = feed = s = 0.0
    mode, steps, is_enabled, has_ended = None, [], False, False
    for line in text.splitlines():
        words = re.findall(r"([A-Z])([-+.\d]+)", re.sub(r"\([^()]*\)", "", line))
        assert not (words and has_ended), f"text after the end: {line}"
        before, moves = (x, y), False
        for letter, number in words:
            value = float(number)
            if letter == "G" and value in (0, 1):
                mode = int(value)
            elif letter == "G":
                assert value in (21, 90), line
            elif letter == "M" and value == 5:
                has_ended, s = True, 0.0
            elif letter == "M":
                assert f"M{number}" == machine.beam_on, line
                is_enabled = True
            elif letter == "X":
                x, moves = value, True
            elif letter == "Y":
                y, moves = value, True
            elif letter == "F":
                feed = value
            elif letter == "S":
                s = value
            else:
                raise AssertionError(f"unknown word in {line!r}")
        if moves:
            assert is_enabled, "moves before the beam's code"
            assert mode in (0, 1), line
            speed = machine.top_speed_mm_s if mode == 0 else feed / 60
            steps.append(Step(before, (x, y), mode == 0, speed, s / machine.power_word))
    assert has_ended, "the beam is not switched off at the end"
    return steps


def vertex_speeds(steps, machine):
    """Speeds at the start, between steps, and at the end; the rule of motion, one by one."""
    a, c = machine.acceleration_mm_s2, machine.cornering_mm
    limit = [0.0]
    for first, second in pairwise(steps):
        turn = abs(math.remainder(second.heading - first.heading, 2 * math.pi))
        speed = min(first.speed, second.speed)
        if turn > 1e-12:
            s = math.sin((math.pi - turn) / 2)
            if s < 1:
                speed = min(speed, math.sqrt(max(a * c * s / (1 - s), 0.0)))
            speed = min(speed, math.sqrt(a * (first.length + second.length) / (2 * turn)))
        limit.append(speed)
    limit.append(0.0)
    for k, step in enumerate(steps):
        limit[k + 1] = min(limit[k + 1], math.sqrt(limit[k] ** 2 + 2 * a * step.length))
    for k in range(len(steps) - 1, -1, -1):
        limit[k] = min(limit[k], math.sqrt(limit[k + 1] ** 2 + 2 * a * steps[k].length))
    return limit


def peak_speeds(steps, machine):
    """The highest speed within each step: where speeding up meets slowing down, or the feed."""
    v, a = vertex_speeds(steps, machine), machine.acceleration_mm_s2
    return [
        min(step.speed, math.sqrt((v[k] ** 2 + v[k + 1] ** 2) / 2 + a * step.length))
        for k, step in enumerate(steps)
    ]


def times(steps, machine):
    """The time of each step: speeding up, cruising, slowing down."""
    v, a = vertex_speeds(steps, machine), machine.acceleration_mm_s2
    found = []
    for k, (step, top) in enumerate(zip(steps, peak_speeds(steps, machine), strict=True)):
        up, down = (top - v[k]) / a, (top - v[k + 1]) / a
        ramps = up * (v[k] + top) / 2 + down * (v[k + 1] + top) / 2
        found.append(up + down + max(step.length - ramps, 0.0) / top)
    return found


def time_to_last_mark(steps, machine):
    """From rest at (0, 0) to the last point with the beam on."""
    last = max((k for k, step in enumerate(steps) if step.is_on), default=-1)
    return sum(times(steps, machine)[: last + 1])


def dose_ratios(steps, machine, *, power, speed):
    """Least and largest line dose along the beam-on path, relative to power / speed."""
    v, top = vertex_speeds(steps, machine), peak_speeds(steps, machine)
    on = [k for k, step in enumerate(steps) if step.is_on]
    intended = power / speed
    most = max(steps[k].power / max(min(v[k], v[k + 1]), 1e-9) for k in on)
    least = min(steps[k].power / top[k] for k in on)
    return least / intended, most / intended


def lit(steps):
    """(n, 4) ends of the beam-on steps."""
    ends = [(*step.a, *step.b) for step in steps if step.is_on]
    return np.array(ends, dtype=float).reshape(-1, 4)


def runs(steps):
    """Unbroken beam-on runs of steps."""
    return [list(group) for is_on, group in groupby(steps, lambda step: step.is_on) if is_on]


def fill_lines(steps, along):
    """Beam-on steps of the fill lines along x or y: runs without a corner, off before and after."""
    axis = 1 if along == "x" else 0
    found = []
    for run in runs(steps):
        if all(abs(step.b[axis] - step.a[axis]) < 1e-9 for step in run):
            found += run
    return found


def distance_to(segments, points, stretch=(1.0, 1.0)):
    """Distance of each point to the nearest segment, in a plane stretched along its axes."""
    stretch = np.asarray(stretch, dtype=float)
    points = np.asarray(points, dtype=float) * stretch
    best = np.full(len(points), np.inf)
    for x0, y0, x1, y1 in segments:
        a, b = np.array([x0, y0]) * stretch, np.array([x1, y1]) * stretch
        step = b - a
        square = float(step @ step)
        along = np.clip((points - a) @ step / square, 0, 1) if square else np.zeros(len(points))
        off = points - a - along[:, None] * step
        np.minimum(best, np.hypot(off[:, 0], off[:, 1]), out=best)
    return best


def cleared_raster(segments, mark, low, high, pitch=0.005):
    """Which pixel centres the mark's ellipse passes over: (rows, columns) of bool, and centres.

    Each segment is drawn into its own window, so that a whole plate can be afforded.
    """
    xs = np.arange(low[0], high[0], pitch) + pitch / 2
    ys = np.arange(low[1], high[1], pitch) + pitch / 2
    done = np.zeros((len(ys), len(xs)), dtype=bool)
    factor = mark[0] / mark[1]
    for x0, y0, x1, y1 in segments:
        left, right = np.searchsorted(xs, (min(x0, x1) - mark[0] / 2, max(x0, x1) + mark[0] / 2))
        under, over = np.searchsorted(ys, (min(y0, y1) - mark[1] / 2, max(y0, y1) + mark[1] / 2))
        if left == right or under == over:
            continue
        px, py = np.meshgrid(xs[left:right] - x0, (ys[under:over] - y0) * factor)
        dx, dy = x1 - x0, (y1 - y0) * factor
        square = dx * dx + dy * dy
        along = np.clip((px * dx + py * dy) / square, 0, 1) if square else np.zeros_like(px)
        near = (px - along * dx) ** 2 + (py - along * dy) ** 2 <= (mark[0] / 2) ** 2
        done[under:over, left:right] |= near
    return done, np.stack(np.meshgrid(xs, ys), axis=-1)
