"""The mill's emblem: the water wheel over the tide, 20 mm high, drawn from numbers.

A bold rim with flat floats, eight spokes, a hub with the square hole of its shaft, and three
waves. Everything is dark on nothing, except a white wave that parts the wheel from the water.
"""

from __future__ import annotations

import math

FLOATS = 16
SPOKES = 8
WATER = 5.6  # the first wave's middle line, below the wheel's centre


def emblem() -> list[str]:
    """SVG elements, in mm, centred on the wheel's axle, y down."""
    turns = [360 / FLOATS * k for k in range(FLOATS)]
    floats = [_turned(_float_path(), turn) for turn in turns if not 130 < turn < 230]
    spokes = [_turned(_spoke_path(), 360 / SPOKES * (k + 0.5)) for k in range(SPOKES)]
    return [
        *floats,
        *spokes,
        f'<path fill-rule="evenodd" d="{_ring(7.9, 6.75)}"/>',
        f'<path d="{_inner_ring(5.9, 5.55)}"/>',
        f'<path fill-rule="evenodd" d="{_circle(2.05)}M-.75-.75H.75V.75H-.75Z"/>',
        f'<path fill="#fff" d="{_below_water(WATER - 0.95)}"/>',
        *(
            f'<path d="{_wave(WATER + 2.05 * k, half_width, 0.98 - 0.04 * k)}"/>'
            for k, half_width in enumerate((11.0, 8.8, 6.6))
        ),
    ]


def _turned(path: str, degrees: float) -> str:
    return f'<path transform="rotate({degrees:g})" d="{path}"/>'


def _float_path() -> str:
    """A flat float on its two starts, from the inner ring out past the rim, pointing up."""
    return "M-.26-5.7L-.26-7H-.36V-9.6L.36-9.6V-7H.26V-5.7Z"


def _spoke_path() -> str:
    """A tapered spoke from the hub to the inner ring, pointing up."""
    return "M-.48-1.2L-.3-6.9H.3L.48-1.2Z"


def _circle(radius: float) -> str:
    r = f"{radius:g}"
    return f"M-{r} 0A{r} {r} 0 1 1 {r} 0A{r} {r} 0 1 1-{r} 0Z"


def _ring(outer: float, inner: float) -> str:
    return _circle(outer) + _circle(inner)


def _inner_ring(outer: float, inner: float) -> str:
    """The light inner ring, from the lowest spoke above the water over the top to the other."""
    turn = math.radians(2.5 * 360 / SPOKES - 90 - 1)
    ends = [
        (side * radius * math.cos(turn), radius * math.sin(turn))
        for radius, side in ((outer, -1), (outer, 1), (inner, 1), (inner, -1))
    ]
    a, b, c, d = map(_pair, ends)
    return f"M{a}A{outer:g} {outer:g} 0 1 1 {b}L{c}A{inner:g} {inner:g} 0 1 0 {d}Z"


def _crests(y: float, half_width: float) -> list[tuple[float, float]]:
    """Points of the wave's middle line, 4.4 mm from crest to crest, tapered off at the ends."""
    n = 2 * round(half_width / 0.275)
    xs = [-half_width + 2 * half_width * k / n for k in range(n + 1)]
    return [(x, y - 0.55 * math.cos(2 * math.pi * x / 4.4)) for x in xs]


def _wave(y: float, half_width: float, thickness: float) -> str:
    """A wave that swells from a point at each end to its full thickness."""
    upper, lower = [], []
    for x, middle in _crests(y, half_width):
        swell = math.sqrt(max(0.0, 1 - (abs(x) / half_width) ** 3))
        upper.append((x, middle - swell * thickness / 2))
        lower.append((x, middle + swell * thickness / 2))
    return _smooth(upper) + _smooth(lower[::-1]).replace("M", "L", 1) + "Z"


def _below_water(y: float) -> str:
    """Everything under the line that parts wheel and water."""
    return _smooth(_crests(y, 11.55)) + "V13H-11.55Z"


def _smooth(points: list[tuple[float, float]]) -> str:
    """A smooth cubic curve through points (Catmull-Rom tangents)."""
    data = [f"M{_pair(points[0])}"]
    last = len(points) - 1
    for k in range(last):
        before, a, b, after = (
            points[max(k - 1, 0)],
            points[k],
            points[k + 1],
            points[min(k + 2, last)],
        )
        first = (a[0] + (b[0] - before[0]) / 6, a[1] + (b[1] - before[1]) / 6)
        second = (b[0] - (after[0] - a[0]) / 6, b[1] - (after[1] - a[1]) / 6)
        data.append(f"C{_pair(first)} {_pair(second)} {_pair(b)}")
    return "".join(data)


def _pair(point: tuple[float, float]) -> str:
    return " ".join(f"{value:.4f}".rstrip("0").rstrip(".") for value in point)
