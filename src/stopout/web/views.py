"""What the page draws of a plan: outlines in mm, y down, and what there is to say of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from stopout.planning import Plan


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
    from stopout.mask import mirror_left_right
    from stopout.pictures.of_plan import preview_scene
    from stopout.sheet.drawings.pieces import path_data

    blank = plan.job.blank
    paths: dict[str, str] = {}
    if plan.coats:
        scene = preview_scene(plan)
        high = blank.height_mm

        def seen(region: Any) -> Any:
            mirrored = mirror_left_right(region, width_mm=blank.width_mm)
            return mirrored if blank.is_back_worked else region

        paths = {
            "face": path_data(scene.blank, high),
            "worked": path_data(scene.opening, high),
            "drawn": path_data(scene.target, high),
            "finished": path_data(scene.finished, high),
            "too_much": path_data(scene.too_much, high),
            "too_little": path_data(scene.too_little, high),
            "seen": path_data(seen(scene.finished), high),
            "face_seen": path_data(seen(scene.blank), high),
        }
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
