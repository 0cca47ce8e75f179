"""What the page draws of a plan: outlines in um, y down, and what there is to say of them."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.job.record import Job
    from stopout.planning import CoatPlan, Plan
    from stopout.planning.opening.first_look import Glimpse
    from stopout.planning.signs.front import Front, FrontGlimpse

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


class _Layers:
    """Layers of a picture, and the outlines that they name."""

    def __init__(self, job: Job) -> None:
        self.job, self.shapes = job, dict[str, str]()
        self._high_mm = job.blank.height_mm

    def of(self, region: BaseGeometry, **look: str) -> Layer:
        """Return a layer of a region as worked; `fill` is its tint, `kind` what it tells."""
        name, path = _SHAPES.of(region, self._high_mm)
        self.shapes[name] = path
        return {"shape": name, **look}

    def seen(self, region: BaseGeometry, **look: str) -> Layer:
        """Return a layer of a region as its reader sees it."""
        from stopout.planning.measures.placing import as_worked_on

        job = self.job
        return self.of(as_worked_on(region, job) if job.blank.is_back_worked else region, **look)


def glimpse_of(job: Job, glimpse: Glimpse | FrontGlimpse) -> dict[str, Any]:
    """Return a first look as the page shows it: the ways of showing that it knows."""
    from stopout.planning.signs.front import FrontGlimpse

    layers, blank = _Layers(job), job.blank
    if isinstance(glimpse, FrontGlimpse):
        drawn = _in_colours(job, None, glimpse.face, glimpse.shown, layers.of)
        ways = {"seen": {"after": drawn, "before": drawn}}
    else:
        ways = _plain_ways(
            layers,
            colour=glimpse.coat.colour,
            face=glimpse.face,
            target=glimpse.target,
            opening=glimpse.opening,
            finished=((glimpse.finished, ""), (glimpse.unsure, "unsure")),
            strays=(("less", glimpse.short),),
        )
        if job.route.is_sign:
            del ways["seen"]
    return {
        "size_mm": [blank.width_mm, blank.height_mm],
        "back": blank.is_back_worked,
        "ways": ways,
        "shapes": layers.shapes,
    }


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
    blank, layers = plan.job.blank, _Layers(plan.job)
    return {
        "draft": plan.is_draft,
        "size_mm": [blank.width_mm, blank.height_mm],
        "back": blank.is_back_worked,
        "state": plan.verdict.state,
        "headline": plan.full_headline,
        "ways": _ways(plan, layers) if plan.coats else {},
        "shapes": layers.shapes,
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
        plan.coats, key=lambda one: max(one.outcome.worst_outside_mm, one.outcome.worst_inside_mm)
    )


def _ways(plan: Plan, layers: _Layers) -> dict[str, Any]:
    """The piece as seen, as worked and as finished; before as drawn, after as predicted."""
    coat = shown_coat(plan)
    ways = _plain_ways(
        layers,
        colour=coat.coat.colour,
        face=plan.face,
        target=coat.target,
        opening=coat.opening,
        finished=((coat.finished, ""),),
        strays=(("more", coat.outcome.too_much), ("less", coat.outcome.too_little)),
    )
    return ways if plan.front is None else {**ways, "seen": _through_the_front(plan, layers)}


def _plain_ways(
    layers: _Layers,
    *,
    colour: str,
    face: BaseGeometry,
    target: BaseGeometry,
    opening: BaseGeometry,
    finished: Sequence[tuple[BaseGeometry, str]],
    strays: Sequence[tuple[str, BaseGeometry]],
) -> dict[str, Any]:
    from stopout.pictures.means.colours import material_tint, paint_tint, recess_tint

    material, paint = layers.job.blank.material, paint_tint(colour)
    bare, made = material_tint(material), recess_tint(material)
    if layers.job.route.is_sign:
        bare, made = paint, bare
    open_tint = material_tint(material)
    told = [layers.of(_noticeable(region), kind=kind) for kind, region in strays]

    def whole(layer: Callable[..., Layer]) -> list[Layer]:
        return [
            layer(face, fill=bare),
            *(layer(one, fill=made, kind=kind) for one, kind in finished),
        ]

    return {
        "seen": {
            "after": whole(layers.seen),
            "before": [layers.seen(face, fill=bare), layers.seen(target, fill=made)],
        },
        "worked": {
            "after": [layers.of(face, fill=paint), layers.of(opening, fill=open_tint)],
            "before": [layers.of(face, fill=paint), layers.of(target, fill=open_tint)],
        },
        "finished": {
            "after": [*whole(layers.of), *told],
            "before": [layers.of(face, fill=bare), layers.of(target, fill=made)],
        },
    }


def _through_the_front(plan: Plan, layers: _Layers) -> dict[str, list[Layer]]:
    """A sign in its colours, as predicted and as it is to be."""
    views = () if plan.front is None else plan.front.views
    return {
        name: _in_colours(plan.job, plan.front, plan.face, regions, layers.seen)
        for name, regions in (("after", views), ("before", plan.shown))
    }


def _in_colours(
    job: Job,
    front: Front | None,
    face: BaseGeometry,
    shown: Sequence[BaseGeometry],
    layer: Callable[..., Layer],
) -> list[Layer]:
    """The face, and what is shown of each coat in its tint, as far as the front tells it."""
    from stopout.pictures.means.colours import material_tint, paint_tint
    from stopout.planning.road.front import coat_tints

    tints = [paint_tint(tint) for tint in coat_tints(job, front)]
    return [
        layer(face, fill=material_tint(job.blank.material)),
        *(layer(region, fill=tint) for region, tint in zip(shown, tints, strict=False)),
    ]


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
