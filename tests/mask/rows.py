"""Rows of drawings, each a little more of something than the one before: where is the border?

A choice of ours (what is a stub, a twig, a point, a hairline) falls between two of a row.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import shapely
from shapely import LineString, Point, Polygon, affinity, box

PITCH_MM = 5.0


def stroke(ways, width, cap="flat", join="mitre"):
    return LineString(ways).buffer(width / 2, cap_style=cap, join_style=join)


def wedge(degrees, length=2.0):
    half = np.radians(degrees / 2)
    side = length / max(np.cos(half), 0.6)
    ends = [(side * np.cos(turn), side * np.sin(turn)) for turn in (-half, half)]
    return Polygon([(0, 0), *ends])


def turned(length, degrees, start=(0.0, 0.0)):
    turn = np.radians(degrees)
    return (start[0] + length * np.cos(turn), start[1] + length * np.sin(turn))


def corner(degrees):
    """A point of straight sides, and beside it arcs that meet at the same angle."""
    bow = 1 / np.tan(np.radians(degrees / 2))
    lens = [Point(0, y).buffer(np.hypot(1, bow), 64) for y in (bow, -bow)]
    return wedge(degrees, 1.2) | affinity.translate(lens[0] & lens[1], -1.5, 0)


def stub(width, length):
    return shapely.union_all([box(0, 0, 1.2, 0.6), box(0.5, 0.6, 0.5 + width, 0.6 + length)])


def twig(length, degrees, width):
    bar = stroke([(0, 0), (3, 0)], 0.13)
    return bar | stroke([(1.4, 0), turned(0.065 + length, degrees, (1.4, 0))], width)


def pointed(length, lean):
    """A stroke with a long point on its right and one half as long, or a blunt end, on its left."""
    right = [(2 + length, 0.07 + lean), (2, 0.14)]
    left = [(-length / 2, 0.07)] if lean else []
    return Polygon([(0, 0), (2, 0), *right, (0, 0.14), *left])


def hairline(width):
    """A hairline between two thin strokes, and one that opens into a wide part."""
    bars = [box(0, 0, 1, 0.12), box(1, 0.06, 2, 0.06 + width), box(2, 0, 3, 0.12)]
    return shapely.union_all([*bars, Polygon([(0, 1), (2, 1), (3, 0.7), (3, 1.6), (2, 1 + width),
                                              (0, 1 + width)])])  # fmt: skip


def speck(size):
    dots = [box(0, 0, size, size), affinity.translate(Point(0, 0).buffer(size / 2, 8), 1, 0)]
    return shapely.union_all([*dots, box(2, 0, 2 + 3 * size, size), wedge(60, size)])


def pair(gap, lean):
    """Two thin bars beside each other, and one beside a wide part."""
    first, second = box(0, 0, 2, 0.15), box(0, 0.15 + gap, 2, 0.3 + gap)
    second = affinity.rotate(second, lean, origin=(0, 0.15 + gap))
    return shapely.union_all(
        [first, second, box(2.5, 0, 2.65, 2), box(2.65 + gap, 0, 3.6 + gap, 2)]
    )


def chain(gap):
    """Necks so far from each other along one stroke."""
    dot = Point(0, 0.065).buffer(0.2)
    ends = [affinity.translate(dot, x) for x in (0.6, 0.6 + gap + 0.8, 1.2 + 2 * gap + 1)]
    return shapely.union_all([box(0, 0, 3.5, 0.13), box(0.5, -0.2, 0.5 + gap, 0.4), *ends])


def bend(degrees, width):
    return stroke([(0, 0), (1.5, 0), turned(1.5, 180 - degrees, (1.5, 0))], width)


def trumpet(rise):
    """A thin stroke that widens into a wide part, slowly or at once."""
    mouth = Polygon([(1, 0), (1.8, -0.8 * rise), (1.8, 0.14 + 0.8 * rise), (1, 0.14)])
    return box(0, 0, 1, 0.14) | mouth


def taper(thin, wide):
    return Polygon([(0, 0), (3, -wide / 2), (3, wide / 2), (0, thin)])


def counter(radius):
    """A thin ring, and a notch between two arms, as wide as the counter."""
    ring = Point(0.8, 0.8).buffer(radius + 0.13).difference(Point(0.8, 0.8).buffer(radius))
    fork = stroke([(0, 2), (2, 2)], 0.13) | stroke([(0, 2.13 + radius), (2, 2.13 + radius)], 0.13)
    return shapely.union_all([ring, fork, box(2, 1.9, 2.13, 2.26 + radius)])


def land(gap):
    """Two wide parts with a land between, straight, or round; a slit in a part; land in notches."""
    parts = [box(0, 0, 1, 1), box(1 + gap, 0, 2 + gap, 1)]
    dots = [Point(x, 2).buffer(0.5) for x in (0.5, 1.5 + gap)]
    slit = box(2.6, 0, 3.8, 1.6).difference(box(2.9, 0.6, 3.5, 0.6 + gap))
    # So deep that it is a corner, or more.
    slit = slit.difference(box(3.1, 1.12 - gap / 2, 3.3, 1.6))
    wedged = box(0, 2.8, 2.5, 3.6).difference(Polygon([(0, 3.1), (1.5, 3.1), (0, 3.1 + gap)]))
    return shapely.union_all([*parts, *dots, slit, wedged])


ROWS = {
    "corners": [corner(a) for a in (12, 20, 28, 33, 44, 46, 60, 88, 91, 97, 150, 168, 173)],
    "stubs": [stub(*of) for of in product((0.07, 0.13), (0.07, 0.11, 0.15, 0.2, 0.3, 0.45))],
    "twigs": [
        twig(length, *how)
        for how in ((90, 0.13), (50, 0.08))
        for length in (0.03, 0.06, 0.08, 0.1, 0.12, 0.15, 0.2, 0.3)
    ],
    "points": [pointed(*of) for of in product((0.05, 0.1, 0.14, 0.2, 0.3, 0.6, 1.2), (0, 0.15))],
    "hairlines": [hairline(w) for w in (0.006, 0.012, 0.02, 0.026, 0.03, 0.04, 0.08)],
    "specks": [speck(size) for size in (0.015, 0.03, 0.05, 0.08, 0.12, 0.16, 0.2, 0.23)],
    "pairs": [
        pair(gap, lean)
        for lean in (0, 4)
        for gap in (0.03, 0.08, 0.1, 0.12, 0.15, 0.2, 0.26)
    ],
    "chains": [chain(gap) for gap in (0.1, 0.2, 0.28, 0.34, 0.38, 0.42, 0.47, 0.6)],
    "bends": [bend(*of) for of in product((15, 30, 45, 58, 65, 90, 130, 160), (0.1, 0.19))],
    "trumpets": [trumpet(rise) for rise in (0.05, 0.1, 0.15, 0.2, 0.26, 0.33, 0.5, 0.8, 1.5, 4)],
    "tapers": [
        taper(thin, wide)
        for thin in (0.01, 0.05, 0.09)
        for wide in (0.14, 0.17, 0.2, 0.24, 0.3)
    ],
    "counters": [counter(r) for r in (0.02, 0.05, 0.08, 0.11, 0.13, 0.16, 0.2, 0.25)],
    "lands": [land(gap) for gap in (0.0105, 0.05, 0.1, 0.15, 0.19, 0.21, 0.25, 0.3, 0.34, 0.36)],
}  # fmt: skip


def in_a_row(shapes):
    """Lay shapes out beside each other, and return them with their cells."""
    laid, cells = [], []
    for k, shape in enumerate(shapes):
        x0, y0, _, _ = shape.bounds
        # Off whole numbers: nothing lies on a grid by chance.
        laid.append(affinity.translate(shape, PITCH_MM * k - x0 + 0.137, 0.219 - y0))
        cells.append(box(PITCH_MM * k - 0.5, -1, PITCH_MM * (k + 1) - 0.5, 8))
    assert all(cell.contains(one) for cell, one in zip(cells, laid, strict=True))
    return shapely.union_all(laid), cells
