"""Gradients as bands of plain colour, cut exactly where the tone crosses the threshold.

What is etched is either cleared or not, so a gradient has an edge only where its tone over white
passes the threshold. Either side of that edge is parted into a few bands, so that see-through
paint over and under it still adds up (SVG 2, chapter 14).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor
from typing import Any

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stopout.artwork.regions.curves import Affine
from stopout.artwork.regions.rings import EMPTY, as_xy, only_areas
from stopout.artwork.tone import Colour, luma
from stopout.errors import ArtworkError

_STEPS = 12
_MOST_TURNS = 200
_FAR = 1e4


@dataclass(frozen=True, slots=True)
class _Stop:
    at: float
    colour: Colour
    alpha: float


def bands(
    element: Any, to_page: Affine, region: BaseGeometry, *, threshold: float
) -> list[tuple[BaseGeometry, Colour, float]]:
    """Part a region into bands of a gradient.

    Parameters
    ----------
    element : lxml element
        A normalised `linearGradient` or `radialGradient`.
    to_page : Affine
        From the gradient's own space (bounding box and transform included) to page mm.
    region : BaseGeometry
        What the gradient fills, in page mm.
    threshold : float
        A band is cut where the luma over white passes ``1 - threshold``.

    Returns
    -------
    list of (region, colour, alpha)
    """
    stops = _stops(element)
    if not stops:
        return []
    if len(stops) == 1 or abs(to_page.a * to_page.d - to_page.b * to_page.c) < 1e-18:
        return [(region, stops[-1].colour, stops[-1].alpha)]
    cuts = _cuts(stops, threshold)
    found = []
    shapes = _radial if element.tag.endswith("radialGradient") else _linear
    for first, last, band in shapes(element, to_page, region, cuts):
        colour, alpha = _mix(stops, (first + last) / 2)
        part = only_areas(shapely.intersection(region, band))
        if not part.is_empty:
            found.append((part, colour, alpha))
    return found


def _stops(element: Any) -> list[_Stop]:
    found: list[_Stop] = []
    for item in element:
        value = item.get("stop-color", "#000000")
        at = min(1.0, max(found[-1].at if found else 0.0, float(item.get("offset", "0"))))
        red, green, blue = (float(int(value[k : k + 2], 16)) for k in (1, 3, 5))
        found.append(_Stop(at, (red, green, blue), float(item.get("stop-opacity", "1"))))
    return found


def _mix(stops: list[_Stop], t: float) -> tuple[Colour, float]:
    places = [stop.at for stop in stops]
    red, green, blue, alpha = (
        float(np.interp(t, places, values))
        for values in (*zip(*(stop.colour for stop in stops), strict=True),
                       [stop.alpha for stop in stops])
    )  # fmt: skip
    return (red, green, blue), alpha


def _cuts(stops: list[_Stop], threshold: float) -> list[float]:
    """Where bands end, from 0 to 1: at stops, at equal steps, and where the tone crosses."""
    cuts = {0.0, 1.0, *(stop.at for stop in stops)}
    cuts |= {k / _STEPS for k in range(1, _STEPS)}

    def over(t: float) -> float:
        colour, alpha = _mix(stops, t)
        return 1.0 - alpha * (1.0 - luma(colour)) - (1.0 - threshold)

    for low, high in pairwise(sorted(cuts)):
        a, b = low + 1e-9, high - 1e-9
        if b > a and over(a) * over(b) < 0.0:
            rises = over(b) > 0.0
            for _ in range(40):
                middle = (a + b) / 2
                a, b = (a, middle) if (over(middle) > 0.0) == rises else (middle, b)
            cuts.add((a + b) / 2)
    return sorted(cuts)


def _periods(
    element: Any, cuts: list[float], least: float, most: float
) -> Iterator[tuple[float, float, float, float]]:
    """Yield (from, to) in the run of the gradient's line and (first, last) of the colours there."""
    spread = element.get("spreadMethod", "pad")
    if spread == "pad":
        yield min(least, 0.0) - 1.0, 0.0, 0.0, 0.0
        for a, b in pairwise(cuts):
            yield a, b, a, b
        yield 1.0, max(most, 1.0) + 1.0, 1.0, 1.0
        return
    if most - least > _MOST_TURNS:
        raise ArtworkError(f"a gradient repeats more than {_MOST_TURNS} times; draw plain shapes")
    for turn in range(floor(least), ceil(most) + 1):
        turned = spread == "reflect" and turn % 2 != 0
        for a, b in pairwise(cuts):
            if turned:
                yield turn + 1 - b, turn + 1 - a, a, b
            else:
                yield turn + a, turn + b, a, b


def _inverse(affine: Affine, points: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    matrix = np.array([[affine.a, affine.c], [affine.b, affine.d]])
    shift = np.array([affine.e, affine.f])
    return np.asarray(np.linalg.solve(matrix, (points - shift).T).T)


def _corners(region: BaseGeometry) -> np.ndarray[Any, Any]:
    x0, y0, x1, y1 = region.bounds
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def _linear(
    element: Any, to_page: Affine, region: BaseGeometry, cuts: list[float]
) -> Iterator[tuple[float, float, BaseGeometry]]:
    start = complex(float(element.get("x1", 0)), float(element.get("y1", 0)))
    end = complex(float(element.get("x2", 1)), float(element.get("y2", 0)))
    line = end - start
    if line == 0:
        yield 1.0, 1.0, region
        return
    own = _inverse(to_page, _corners(region)) @ np.array([1, 1j])
    along = ((own - start) / line).real
    across = float(np.abs(((own - start) / line).imag).max()) + 1.0
    for a, b, first, last in _periods(element, cuts, float(along.min()), float(along.max())):
        ring = start + line * np.array([a - 1j * across, b - 1j * across, b + 1j * across,
                                        a + 1j * across])  # fmt: skip
        yield first, last, Polygon(as_xy(to_page.apply(ring)))


def _radial(
    element: Any, to_page: Affine, region: BaseGeometry, cuts: list[float]
) -> Iterator[tuple[float, float, BaseGeometry]]:
    centre = complex(float(element.get("cx", 0.5)), float(element.get("cy", 0.5)))
    focus = complex(float(element.get("fx", centre.real)), float(element.get("fy", centre.imag)))
    radius = float(element.get("r", 0.5))
    if radius <= 0.0:
        yield 1.0, 1.0, region
        return
    # A focus beyond the circle is drawn on it (SVG 1.1, section 13.2.3); just within is drawable.
    away = abs(focus - centre)
    if away > 0.99 * radius:
        focus = centre + (focus - centre) / away * 0.99 * radius
    own = _inverse(to_page, _corners(region)) @ np.array([1, 1j])
    most = float(np.abs(own - centre).max()) / radius / (1 - min(away / radius, 0.99))
    turn = np.exp(2j * np.pi * np.arange(720) / 720)

    def disc(t: float) -> BaseGeometry:
        if t <= 0.0:
            return EMPTY
        ring = focus + t * (centre - focus) + t * radius * turn
        return Polygon(as_xy(to_page.apply(ring)))

    for a, b, first, last in _periods(element, cuts, 0.0, min(most, _FAR)):
        if b > 0.0:
            yield first, last, shapely.difference(disc(b), disc(a))
