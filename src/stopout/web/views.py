"""What the page draws of a plan: outlines in um, y down, and what there is to say of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.planning import Plan

# Outlines are thinned by this: nobody enlarges a piece further than to a micrometre.
_LEAN_MM = 0.001
# Deviations thinner than this are the arithmetic's own.
_NOTICEABLE_MM = 0.006


def view_of(plan: Plan) -> dict[str, Any]:
    """Return a plan as the page shows it.

    Parameters
    ----------
    plan : Plan
        A draft or a full plan.

    Returns
    -------
    dict
        Plain data: `size_mm`, paths by name, verdict, findings with their places as worked.
    """
    from stopout.planning.measures.placing import as_worked_on

    job, blank = plan.job, plan.job.blank
    paths: dict[str, str] = {}
    if plan.coats:
        coat = min(plan.coats, key=lambda one: -one.outcome.worst_outside_mm)
        regions = {
            "face": plan.face,
            "worked": coat.opening,
            "drawn": coat.target,
            "finished": coat.finished,
            "too_much": _noticeable(coat.outcome.too_much),
            "too_little": _noticeable(coat.outcome.too_little),
        }
        paths = {name: _path(region, blank.height_mm) for name, region in regions.items()}
        for name, of in (("seen", "finished"), ("face_seen", "face")):
            turned = as_worked_on(regions[of], job) if blank.is_back_worked else None
            paths[name] = paths[of] if turned is None else _path(turned, blank.height_mm)
    return {
        "draft": plan.is_draft,
        "size_mm": [blank.width_mm, blank.height_mm],
        "back": blank.is_back_worked,
        "raised": plan.job.artwork.dark == "raised",
        "state": plan.verdict.state,
        "headline": plan.headline,
        "paths": paths,
        "findings": [
            {
                "level": str(told.level.value),
                "text": told.text,
                "first": told in plan.verdict.lines,
                "places": [list(place) for place in told.places_mm[:40]],
            }
            for told in plan.verdict.told
        ],
    }


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
