"""How well a sign's colours stand out from each other: contrast, strokes, glare. Advice only.

Contrast is (B1 - B2) / B1 of the light reflectance values of the lighter and the darker surface;
the tints' relative luminance stands for these, since nobody has measured the paints. Visual
characters need 70 % by ICC A117.1 (proposal 7-1-12, equation 7-1 and 703.2.1.2 of its public review
draft), and a gloss of at most 19 at 45 degrees. A note from here certifies no conformity.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from stopout.planning.measures.lettering import LetteringLine, lettering_lines
from stopout.planning.signs.grid import difference, intersection, on_grid, union
from stopout.planning.signs.tints import luminance
from stopout.values import Finding

_NEEDED = 0.70
# Neighbours nearer than this ratio are hard to tell apart at all (our own limit).
_ALIKE = 1.5
# They must meet along so much of an edge to be spoken of.
_SHARED_MM = 1.0
_NEAR_MM = 0.05
# Strokes of light letters on dark spread: h/8 to h/7, dark on light h/6 (DOD-HDBK-791, p. 108).
_LIGHT_STROKE, _MOST_LIGHT = "h/8 to h/7", 0.20


def contrast(one: str, other: str) -> float:
    """Return (B1 - B2) / B1 of two tints `#rrggbb`, 0 to 1: ICC A117.1, equation 7-1."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high - low) / high if high > 0 else 0.0


def contrast_ratio(one: str, other: str) -> float:
    """Return (L1 + 0.05) / (L2 + 0.05) of two tints, 1 to 21 (WCAG 2.1, contrast ratio)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def contrast_findings(
    names: Sequence[str],
    tints: Sequence[str | None],
    views: Sequence[BaseGeometry],
    drawn: Sequence[Sequence[BaseGeometry]],
    *,
    is_glossy: bool,
    shown_by: Sequence[int | None] = (),
) -> list[Finding]:
    """Say where a sign's lettering or neighbouring colours stand out too little.

    Parameters
    ----------
    names : sequence of str
        What each coat's colour is called.
    tints : sequence of str or None
        `#rrggbb` of each coat; None for a window to light.
    views : sequence of BaseGeometry
        Where each coat is seen, as seen.
    drawn : sequence of sequence of BaseGeometry
        The artwork's shapes, those of each colour together, as seen.
    is_glossy : bool
        Whether the sheet's front mirrors lamps.
    shown_by : sequence of int or None
        The coat, from 0, that shows most of each colour, where somebody has counted.

    Returns
    -------
    list of Finding
        Places as seen.
    """
    found: list[Finding] = []
    spoken: set[frozenset[int]] = set()
    lettered = False
    for n, shapes in enumerate(drawn):
        lines = [line for line in lettering_lines(shapes) if line.is_likely]
        k = shown_by[n] if n < len(shown_by) else None
        if lines and k is None:
            k = _seen_in(shapes, views)
        if not lines or k is None or tints[k] is None:
            continue
        lettered = True
        ground = _ground(lines[0], k, views)
        if ground is None or tints[ground] is None:
            continue
        spoken.add(frozenset((k, ground)))
        found += _lettering(lines[0], k, ground, names, tints)
    found += _neighbours(names, tints, views, spoken)
    if lettered and is_glossy:
        found.append(_glare())
    return found


def _seen_in(shapes: Sequence[BaseGeometry], views: Sequence[BaseGeometry]) -> int | None:
    """Return the coat in which most of some shapes is seen; views do not overlap."""
    drawn = union([on_grid(shape) for shape in shapes])
    parts, left = shapely.get_parts(drawn), drawn.area
    inner = shapely.STRtree(shapely.point_on_surface(parts))
    on = [inner.query(view, predicate="intersects") for view in views]
    likely = np.array([shapely.area(parts[k]).sum() for k in on])
    seen = np.zeros(len(views))
    for k in np.argsort(-likely, kind="stable"):
        seen[k] = intersection(views[k], drawn).area
        left -= seen[k]
        # No other coat can show more than what is left.
        if seen.max() >= left:
            break
    most = int(seen.argmax())
    return most if seen[most] > 0 else None


def _ground(line: LetteringLine, k: int, views: Sequence[BaseGeometry]) -> int | None:
    """Return the coat that lies about a line of lettering."""
    x, y = line.at_mm
    reach = 1.5 * line.height_mm
    about = difference(box(x - reach, y - reach / 2, x + reach, y + reach / 2), views[k])
    areas = [0.0 if j == k else intersection(view, about).area for j, view in enumerate(views)]
    most = max(range(len(areas)), key=lambda j: areas[j])
    return most if areas[most] > 0 else None


def _lettering(
    line: LetteringLine, k: int, ground: int, names: Sequence[str], tints: Sequence[str | None]
) -> list[Finding]:
    letters, about = tints[k], tints[ground]
    assert letters is not None
    assert about is not None
    share = contrast(letters, about)
    called = f"{names[k]} lettering {line.height_mm:.1f} mm high on {names[ground]}"
    found = []
    if share < _NEEDED:
        found.append(
            Finding.caution(
                "contrast-low",
                f"{called} contrasts {100 * share:.0f} % ({contrast_ratio(letters, about):.1f} "
                "to 1): visual characters need 70 % by ICC A117.1, where it holds",
                "Make the lighter of the two lighter or the darker one darker, and judge a "
                "painted patch.",
                at_mm=line.at_mm,
            )
        )
    is_light = luminance(letters) > luminance(about)
    if is_light and line.stroke_mm > _MOST_LIGHT * line.height_mm:
        found.append(
            Finding.note(
                "strokes-heavy",
                f"{called} has strokes of {100 * line.stroke_mm / line.height_mm:.0f} % of its "
                f"height: light on dark spreads, and {_LIGHT_STROKE} reads best "
                "(DOD-HDBK-791)",
                "Take a lighter weight of the typeface.",
                at_mm=line.at_mm,
            )
        )
    return found


def _neighbours(
    names: Sequence[str],
    tints: Sequence[str | None],
    views: Sequence[BaseGeometry],
    spoken: set[frozenset[int]],
) -> list[Finding]:
    found = []
    for a, b in combinations(range(len(views)), 2):
        one, other = tints[a], tints[b]
        if one is None or other is None or frozenset((a, b)) in spoken:
            continue
        ratio = contrast_ratio(one, other)
        if ratio >= _ALIKE:
            continue
        shared = shapely.intersection(views[a].boundary, views[b].buffer(_NEAR_MM))
        if shared.length < _SHARED_MM:
            continue
        point = shapely.line_interpolate_point(shapely.get_parts(shared)[0], 0.5, normalized=True)
        found.append(
            Finding.caution(
                "contrast-low",
                f"{names[b]} beside {names[a]} stands out {ratio:.2f} to 1 only: from a "
                "distance, and to many eyes, they are one colour",
                "Take a lighter or darker tint for one of them, or part them by a line.",
                at_mm=(float(point.x), float(point.y)),
            )
        )
    return found


def _glare() -> Finding:
    return Finding.note(
        "front-glossy",
        "the lettering is read through a glossy front, which mirrors lamps: ICC A117.1 asks "
        "for a gloss of at most 19 at 45 degrees, where it holds",
        "Take a sheet with a matt front, or hang it so that no lamp or window is mirrored.",
    )
