"""Shapes that were drawn to be seen, but that no coat of a sign shows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from stopout.planning.job import Coat
from stopout.values import Drawing, Finding, Level

__all__ = ["unclaimed_findings"]

# Less than this is an edge's rounding or a seam between two shapes.
_LEAST_MM2 = 0.01
_SEAM_MM = 0.01
# White is what cuts out; a channel above this is white.
_WHITE = 250
# What spans this share of the artwork's width and height is its ground, which `rest` is meant for.
_GROUND = 0.9


def unclaimed_findings(
    coats: Sequence[Coat],
    shown: Sequence[BaseGeometry],
    drawing: Drawing,
    face: BaseGeometry,
) -> list[Finding]:
    """Say which fills are visible in the artwork and shown by no coat that names what it shows.

    Parameters
    ----------
    coats : sequence of Coat
        Of a sign, from the viewer backwards.
    shown : sequence of BaseGeometry
        What each is to show, as seen.
    drawing : Drawing
        The artwork on the blank, as seen.
    face : BaseGeometry
        The blank's face, as seen.

    Returns
    -------
    list of Finding
        One for each fill, the largest area first. White, and a ground as large as the artwork,
        are left to the rest.
    """
    named = [
        region
        for coat, region in zip(coats, shown, strict=True)
        if coat.shows is not None and coat.shows.kind != "rest"
    ]
    claimed = shapely.union_all(named).buffer(_SEAM_MM)
    by_fill: dict[str, list[BaseGeometry]] = defaultdict(list)
    for shape in drawing.shapes:
        if not _is_white(shape.fill) and not _is_ground(shape.region, drawing):
            by_fill[shape.fill].append(shape.region)
    left = {
        fill: shapely.union_all(regions).intersection(face).difference(claimed)
        for fill, regions in by_fill.items()
    }
    told = sorted((-region.area, fill) for fill, region in left.items())
    return [_finding(fill, left[fill], coats) for area, fill in told if -area > _LEAST_MM2]


def _finding(fill: str, region: BaseGeometry, coats: Sequence[Coat]) -> Finding:
    rest = next(
        (k for k, coat in enumerate(coats, 1) if coat.shows and coat.shows.kind == "rest"), None
    )
    seen = "nothing is left of it on the sign"
    if rest is not None:
        colour = coats[rest - 1].colour or "the rest"
        seen = f"it will be seen as coat {rest}, {colour}, like what is around it"
    at = region.representative_point()
    return Finding(
        code="fill-unclaimed",
        level=Level.CAUTION,
        message=f"{region.area:.2f} mm^2 drawn in {fill} is shown by no coat: {seen}",
        remedy=(
            f'Give it a coat with shows = {{ fill = "{fill}" }}, or leave it out of the artwork; '
            'shows = "dark" takes only what is darker than the threshold.'
        ),
        at_mm=(float(at.x), float(at.y)),
    )


def _is_white(fill: str) -> bool:
    try:
        return all(int(fill[k : k + 2], 16) > _WHITE for k in (1, 3, 5))
    except ValueError:
        return False


def _is_ground(region: BaseGeometry, drawing: Drawing) -> bool:
    if region.is_empty:
        return True
    x0, y0, x1, y1 = region.bounds
    return bool(x1 - x0 >= _GROUND * drawing.width_mm and y1 - y0 >= _GROUND * drawing.height_mm)
