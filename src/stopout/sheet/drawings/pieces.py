"""The sheet's drawings as SVG at the piece's own size: as seen, and as worked coat by coat.

Drawn for paper: edges are simplified to 20 um, an eighth of what a 150 dpi print can show.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.etching import Resist
from stopout.job.record import Coat
from stopout.mask import mirror_left_right
from stopout.pictures.means.colours import (
    look_alike,
    material_tint,
    paint_tint,
    parting_line,
    recess_tint,
)
from stopout.planning import CoatPlan, Plan
from stopout.planning.road.front import coat_tints

_SIMPLIFIED_MM = 0.02
_POLYGON = 3
_EDGE = 'stroke="#000" stroke-width="0.25" fill="none"'
_HAIR = ' stroke="{}" stroke-width="0.06" stroke-linejoin="round"'


def sheet_pictures(plan: Plan) -> dict[str, str]:
    """Return the sheet's drawings: `as-seen`, and `as-worked-K` for each cleared coat K.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to str
        SVG, one unit 1 mm, the size that of the blank, paths and nothing else.
    """
    pictures = {"as-seen": _as_seen(plan)}
    for coat in plan.coats:
        pictures[f"as-worked-{coat.number}"] = _as_worked(plan, coat)
    return pictures


def _as_seen(plan: Plan) -> str:
    """The finished piece: recesses dark, or a sign's coats in their colours."""
    blank, width = plan.job.blank, plan.job.blank.width_mm
    turn = mirror_left_right if blank.is_back_worked else None

    def seen(region: BaseGeometry) -> BaseGeometry:
        return turn(region, width_mm=width) if turn else region

    face = seen(plan.face)
    layers = [(face, material_tint(blank.material))]
    if plan.front is not None:
        layers += [
            (seen(region), paint_tint(_named(coat, resist, tint)))
            for coat, resist, region, tint in zip(
                plan.job.coats,
                plan.resists,
                plan.front.views,
                coat_tints(plan.job, plan.front),
                strict=True,
            )
        ]
        return _svg(plan, layers, face, is_parted=False)
    else:
        layers += [(seen(coat.finished), recess_tint(blank.material)) for coat in plan.coats]
    return _svg(plan, layers, face)


def _as_worked(plan: Plan, coat: CoatPlan) -> str:
    """The face under the laser: paint left standing dark, cleared places bare."""
    bare = material_tint(plan.job.blank.material)
    if plan.job.route.is_lit:
        dark = recess_tint(plan.job.blank.material)
        return _svg(plan, [(plan.face, bare), (coat.opening, dark)], plan.face)
    layers = [(plan.face, paint_tint(coat.coat.colour)), (coat.opening, bare)]
    return _svg(plan, layers, plan.face)


def _named(coat: Coat, resist: Resist, tint: str) -> str:
    """A tint, and whether it is seen lit from behind."""
    return f"{tint} diffuser" if resist.is_diffuser and not coat.is_window else tint


def _svg(
    plan: Plan,
    layers: list[tuple[BaseGeometry, str]],
    face: BaseGeometry,
    *,
    is_parted: bool = True,
) -> str:
    """Draw layers; parted ones get a line where two of them print alike."""
    width, height = plan.job.blank.width_mm, plan.job.blank.height_mm
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.10g}mm" '
        f'height="{height:.10g}mm" viewBox="0 0 {width:.10g} {height:.10g}">'
    )
    hairs = [_hair(k, layers) if is_parted else "" for k in range(len(layers))]
    body = "".join(
        f'<path d="{data}" fill="{tint}" fill-rule="evenodd"{hairs[k]}/>'
        for k, (region, tint) in enumerate(layers)
        if (data := path_data(region, height))
    )
    return f'{head}{body}<path d="{path_data(face, height)}" {_EDGE}/></svg>'


def _hair(k: int, layers: list[tuple[BaseGeometry, str]]) -> str:
    """An outline for a layer that would print like another that may lie next to it."""
    tints = [tint for _, tint in layers]
    # Under the coats of a sign the sheet itself does not show.
    first = 1 if len(tints) > 2 else 0
    others = [tint for j, tint in enumerate(tints) if j >= first and j != k]
    if k < first or not any(look_alike(tints[k], other) for other in others):
        return ""
    return _HAIR.format(parting_line(tints[k]))


def path_data(region: BaseGeometry, height_mm: float) -> str:
    """All rings of a region as one path, y turned over, in hundredths of a mm, moves relative."""
    parts = shapely.get_parts(region)
    rings = shapely.get_rings(parts[shapely.get_type_id(parts) == _POLYGON])
    # Held against itself a ring takes twenty times as long, for what no print shows.
    plain = shapely.simplify(rings, _SIMPLIFIED_MM, preserve_topology=False)
    return "".join(_ring(ring, height_mm) for ring in plain)


def _ring(ring: BaseGeometry, height_mm: float) -> str:
    points = shapely.get_coordinates(ring)[:-1]
    points[:, 1] = height_mm - points[:, 1]
    steps = np.rint(100.0 * points).astype(int)
    moves = np.diff(steps, axis=0)
    moves = moves[np.any(moves != 0, axis=1)]
    if len(moves) < 2:
        return ""
    line = " ".join(f"{_short(x)} {_short(y)}" for x, y in moves.tolist())
    return f"M{_short(int(steps[0, 0]))} {_short(int(steps[0, 1]))}l{line}z"


@cache
def _short(hundredths: int) -> str:
    """Write hundredths of a mm in as few letters as can be: 25 is .25, -120 is -1.2."""
    text = f"{hundredths / 100:.2f}".rstrip("0").rstrip(".")
    return text.replace("0.", ".", 1) if text.startswith(("0.", "-0.")) else text
