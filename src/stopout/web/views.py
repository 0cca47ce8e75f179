"""What the page draws of a plan: outlines in um, y down, and what there is to say of them."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.job.record import Job
    from stopout.planning import CoatPlan, Plan
    from stopout.planning.opening.look import Glimpse

# Outlines are thinned by this: nobody enlarges a piece further than to a micrometre.
_LEAN_MM = 0.001
# Deviations thinner than this are the arithmetic's own.
_NOTICEABLE_MM = 0.006
_MOST_PLACES = 40
_MOST_KEPT = 200
Layer = dict[str, str]


class Shapes:
    """Outlines by what they are made of: one that a page has already is not sent again."""

    def __init__(self) -> None:
        self._made: OrderedDict[bytes, tuple[str, str]] = OrderedDict()

    def of(self, region: BaseGeometry, height_mm: float) -> tuple[str, str]:
        """Return an outline's name and its path data."""
        key = hashlib.blake2b(shapely.to_wkb(region), digest_size=12).digest()
        key += np.float64(height_mm).tobytes()
        if key not in self._made:
            path = _path(region, height_mm)
            self._made[key] = hashlib.blake2b(path.encode(), digest_size=9).hexdigest(), path
            if len(self._made) > _MOST_KEPT:
                self._made.popitem(last=False)
        self._made.move_to_end(key)
        return self._made[key]


_SHAPES = Shapes()


def without(view: dict[str, Any], has: Sequence[str]) -> dict[str, Any]:
    """Leave out of a view the outlines that its reader has."""
    kept = {name: path for name, path in view["shapes"].items() if name not in has}
    return {**view, "shapes": kept}


def glimpse_of(job: Job, glimpse: Glimpse) -> dict[str, Any]:
    """Return a first look as the page shows it: the ways of showing that it knows."""
    from stopout.pictures.colours import material_tint, paint_tint, recess_tint
    from stopout.planning.measures.placing import as_worked_on

    blank, shapes = job.blank, dict[str, str]()

    def layer(region: BaseGeometry, **look: str) -> Layer:
        name, path = _SHAPES.of(region, blank.height_mm)
        shapes[name] = path
        return {"shape": name, **look}

    bare, paint = material_tint(blank.material), paint_tint(glimpse.coat.colour)
    ground, made = (paint, bare) if job.route.is_sign else (bare, recess_tint(blank.material))
    face, target, short = glimpse.face, glimpse.target, _noticeable(glimpse.short)
    finished = [
        layer(glimpse.finished, fill=made),
        layer(glimpse.unsure, fill=made, kind="unsure"),
    ]
    ways = {
        "worked": {
            "after": [layer(face, fill=paint), layer(glimpse.opening, fill=bare)],
            "before": [layer(face, fill=paint), layer(target, fill=bare)],
        },
        "finished": {
            "after": [layer(face, fill=ground), *finished, layer(short, kind="less")],
            "before": [layer(face, fill=ground), layer(target, fill=made)],
        },
    }
    if not job.route.is_sign:
        turn = (lambda one: as_worked_on(one, job)) if blank.is_back_worked else (lambda one: one)
        shown = [layer(turn(face), fill=ground)]
        ways["seen"] = {
            "after": [*shown, layer(turn(glimpse.finished), fill=made),
                      layer(turn(glimpse.unsure), fill=made, kind="unsure")],
            "before": [*shown, layer(turn(target), fill=made)],
        }  # fmt: skip
    return {"size_mm": [blank.width_mm, blank.height_mm], "back": blank.is_back_worked,
            "ways": ways, "shapes": shapes}  # fmt: skip


def view_of(plan: Plan) -> dict[str, Any]:
    """Return a plan as the page shows it.

    Parameters
    ----------
    plan : Plan
        A draft or a full plan.

    Returns
    -------
    dict
        Plain data: `size_mm`, `ways` of showing it as layers of named `shapes`, verdict, findings
        with their places as worked.
    """
    job, blank = plan.job, plan.job.blank
    shapes: dict[str, str] = {}

    def layer(region: BaseGeometry, **look: str) -> Layer:
        name, path = _SHAPES.of(region, blank.height_mm)
        shapes[name] = path
        return {"shape": name, **look}

    return {
        "draft": plan.is_draft,
        "size_mm": [blank.width_mm, blank.height_mm],
        "back": blank.is_back_worked,
        "state": plan.verdict.state,
        "headline": plan.headline,
        "ways": _ways(plan, layer) if plan.coats else {},
        "shapes": shapes,
        "findings": [
            {
                "level": str(told.level.value),
                "text": told.text,
                "brief": told.brief,
                "first": told in plan.verdict.lines,
                "places": [list(place) for place in told.places_mm[:_MOST_PLACES]],
            }
            for told in plan.verdict.told
        ],
    }


def shown_coat(plan: Plan) -> CoatPlan:
    """Return the coat that the page shows: the one whose edges stray farthest."""
    return max(
        plan.coats,
        key=lambda one: max(one.outcome.worst_outside_mm, one.outcome.worst_inside_mm),
    )


def _ways(plan: Plan, layer: Any) -> dict[str, dict[str, list[Layer]]]:
    """The piece as seen, as worked and as finished; before as drawn, after as predicted."""
    from stopout.pictures.colours import material_tint, paint_tint, recess_tint

    coat, material = shown_coat(plan), plan.job.blank.material
    bare, made = material_tint(material), recess_tint(material)
    paint = paint_tint(coat.coat.colour)
    if plan.front is not None:
        bare, made = paint, material_tint(material)
    ground = layer(plan.face, fill=bare)
    painted = layer(plan.face, fill=paint)
    drawn = layer(coat.target, fill=made)
    strays = [
        layer(_noticeable(coat.outcome.too_much), kind="more"),
        layer(_noticeable(coat.outcome.too_little), kind="less"),
    ]
    return {
        "seen": _seen(plan, coat, layer, bare, made),
        "worked": {
            "after": [painted, layer(coat.opening, fill=material_tint(material))],
            "before": [painted, layer(coat.target, fill=material_tint(material))],
        },
        "finished": {
            "after": [ground, layer(coat.finished, fill=made), *strays],
            "before": [ground, drawn],
        },
    }


def _seen(plan: Plan, coat: CoatPlan, layer: Any, bare: str, made: str) -> dict[str, list[Layer]]:
    """The piece as its reader sees it: a plate's etch, a sign's colours through the front."""
    from stopout.pictures.colours import material_tint, paint_tint
    from stopout.planning.measures.placing import as_worked_on
    from stopout.planning.road.front import coat_tints

    def turned(region: BaseGeometry) -> BaseGeometry:
        return as_worked_on(region, plan.job) if plan.job.blank.is_back_worked else region

    face = turned(plan.face)
    if plan.front is None:
        return {
            "after": [layer(face, fill=bare), layer(turned(coat.finished), fill=made)],
            "before": [layer(face, fill=bare), layer(turned(coat.target), fill=made)],
        }
    tints = [paint_tint(tint) for tint in coat_tints(plan.job, plan.front)]
    sheet = layer(face, fill=material_tint(plan.job.blank.material))

    def through(regions: Sequence[BaseGeometry]) -> list[Layer]:
        shown = zip(regions, tints, strict=True)
        return [sheet, *(layer(turned(region), fill=tint) for region, tint in shown)]

    return {"after": through(plan.front.views), "before": through(plan.shown)}


def _noticeable(region: BaseGeometry) -> BaseGeometry:
    """Leave out slivers along edges: a strip's width is twice its area over its outline."""
    parts = shapely.get_parts(region)
    kept = parts[2 * shapely.area(parts) > _NOTICEABLE_MM * shapely.length(parts)]
    return shapely.geometrycollections(kept) if len(kept) else shapely.GeometryCollection()


def _path(region: BaseGeometry, height_mm: float) -> str:
    """All rings of a region as one path in whole um, y turned over, moves relative."""
    parts = shapely.get_parts(shapely.get_parts(region))
    rings = shapely.get_rings(parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON])
    thin = shapely.simplify(rings, _LEAN_MM, preserve_topology=False)
    made = []
    for ring in thin[shapely.get_num_coordinates(thin) >= 4]:
        xy = shapely.get_coordinates(ring)[:-1]
        xy[:, 1] = height_mm - xy[:, 1]
        steps = np.rint(1000.0 * xy).astype(np.int64)
        moves = np.diff(steps, axis=0).ravel().tolist()
        made.append(f"M{steps[0, 0]} {steps[0, 1]}l{' '.join(map(str, moves))}z")
    return "".join(made)
