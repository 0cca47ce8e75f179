"""What `stopout inspect` prints: lines for a person, and a summary as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from stopout.scans.inspecting.whole import whole_words

if TYPE_CHECKING:
    from stopout.library.planned_piece import PieceToInspect
    from stopout.scans.inspecting.faults import Fault
    from stopout.scans.inspecting.piece import Inspection
    from stopout.values import Measured

_BY = {
    "told": "as told",
    "seen": "by where its edges lie",
    "assumed": "assumed: its edges do not tell; give --stage",
}
_SURE = {
    "sure": "",
    "open": " (too small to tell from dust)",
    "dust": " (may well be dust)",
    "both": " (in both scans)",
}
_BOX_MARGIN_MM = 0.5
# No scale is told more closely, however well the edges fit (our own choice).
_LEAST_SCALE_SD = 1e-4


def lines_of(
    found: Inspection, plan: PieceToInspect, name: str, undercut: Measured | None
) -> list[str]:
    """What a person reads at the bench."""
    edges = found.edges
    rows = [
        *(f"WHOLE PIECE: {words}" for words in whole_words(found)),
        f"{name}: {found.dpi:.0f} dpi by the plan's edges, off by {1000 * edges.residual_mm:.1f} "
        f"um; turned by {found.rotation_deg:.1f} deg; edges blurred over "
        f"{1000 * edges.blur_mm:.0f} um",
        f"taken as {found.stage} ({_BY[found.stage_by]})",
    ]
    if found.scale_error is not None:
        rows.append(f"size: {_scale_words(found)}")
    rows += _edge_lines(found, plan, undercut)
    rows += [
        f"  {k:>2}  {fault_words(one, plan)}{_SURE[one.certainty]}"
        for k, one in enumerate(found.faults, 1)
    ]
    rows += _beside_lines(found)
    rows += _closing_lines(found, plan, name)
    return rows


def summary_of(
    found: Inspection, plan: PieceToInspect, undercut: Measured | None
) -> dict[str, Any]:
    """The same for programs; measured values are [value, standard deviation], lengths mm."""
    from stopout.scans.inspecting.faults import stand_map

    edges, scale = found.edges, found.scale_error
    return {
        "format": "stopout-inspection-1",
        "plan": str(plan.folder),
        "coat": plan.coat,
        "stage": found.stage,
        "stage_by": found.stage_by,
        "scan": {
            "dpi": round(found.dpi, 3),
            "stated_dpi": found.stated_dpi,
            "rotation_deg": round(found.rotation_deg, 4),
            "mirrored": found.lie.is_mirrored,
            "cleared_is": "brighter" if found.seen.contrast > 0 else "darker",
            "likeness": round(found.lie.score, 4),
            "residual_mm": round(edges.residual_mm, 6),
            "blur_mm": round(edges.blur_mm, 6),
            "tone": found.tone,
        },
        "scale_error": None if scale is None else [round(scale.value, 7), round(scale.sd, 7)],
        "stretch": round(found.stretch, 6),
        "all_edges_mm": [round(found.all_edges_mm.value, 6), round(found.all_edges_mm.sd, 6)],
        "whole": whole_words(found),
        "rims": [_fault(k, one) for k, one in enumerate(found.rims, 1)],
        "dust": [_fault(k, one) for k, one in enumerate(found.dust, 1)],
        "edge_mm": [round(edges.growth_mm, 6), round(edges.growth_sd_mm, 6)],
        "undercut_mm": None
        if undercut is None
        else [round(undercut.value, 6), round(undercut.sd, 6)],
        "tolerance_mm": round(found.tolerance_mm, 6),
        "smallest_spot_mm": round(found.smallest_mm, 5),
        "faults": [_fault(k, one) for k, one in enumerate(found.faults, 1)],
        "offsets": [
            {
                "at_mm": _pair(one.at_mm),
                "opening": one.part,
                "offset_mm": round(one.offset_mm, 6),
                "sd_mm": round(one.sd_mm, 6),
            }
            for one in stand_map(edges, plan.intended.opening)
        ],
        "cautions": list(found.cautions),
    }


def fault_words(one: Fault, plan: PieceToInspect) -> str:
    """One line of the table."""
    x, y = one.at_mm
    where = f"at ({x:.2f}, {y:.2f}) mm"
    if plan.is_back_worked:
        where += f", as seen ({plan.width_mm - x:.2f}, {y:.2f})"
    if one.kind == "missing":
        what = f"all of opening {one.part}" if one.is_whole else f"part of opening {one.part}"
        return f"missing  {what} {where}: {_area(one.area_mm2)} still covered"
    if one.kind == "pinhole":
        return (
            f"pinhole  {where}: {_area(one.area_mm2)} bare, as a spot of {one.diameter_mm:.2f} mm"
        )
    if one.offset_mm is None:
        return f"wide     beside opening {one.part} {where}: {_area(one.area_mm2)} bare"
    side = "outside" if one.kind == "wide" else "inside"
    return (
        f"{one.kind:<7}  opening {one.part} {where}: edges {abs(1000 * one.offset_mm):.0f} um "
        f"{side} along {one.length_mm:.1f} mm"
    )


def _area(area_mm2: float) -> str:
    return f"{area_mm2:.4f} mm^2" if area_mm2 < 0.1 else f"{area_mm2:.2f} mm^2"


def _scale_words(found: Inspection) -> str:
    scale = found.scale_error
    assert scale is not None
    error = max(scale.sd, _LEAST_SCALE_SD)
    told = f"if the scan has its {found.stated_dpi:.0f} dpi; scan a steel rule to know"
    if abs(scale.value) < 2 * error:
        return f"as planned to {200 * error:.2f} %, {told}"
    how = "larger" if scale.value > 0 else "smaller"
    return (
        f"{100 * abs(scale.value):.2f} % {how} than planned (standard error {100 * error:.2f}), "
        f"{told}"
    )


def _edge_lines(found: Inspection, plan: PieceToInspect, undercut: Measured | None) -> list[str]:
    edges = found.edges
    spread = f"spread {1000 * edges.residual_mm:.1f}"
    if undercut is None:
        side = "outside" if edges.growth_mm >= 0 else "inside"
        return [
            f"edges: on the whole {abs(1000 * edges.growth_mm):.1f} um {side} the plan's ({spread})"
        ]
    planned = plan.intended
    return [
        f"undercut: {1000 * undercut.value:.1f} um an edge (standard deviation "
        f"{1000 * undercut.sd:.1f}; {spread}); planned {1000 * planned.undercut_mm:.1f} "
        f"({1000 * planned.undercut_sd_mm:.1f})"
    ]


def _beside_lines(found: Inspection) -> list[str]:
    """What is there and no fault: dust by two scans, and the piece's own rim."""
    rows = []
    if found.dust:
        count = len(found.dust)
        rows.append(f"dust: {count} spot{'s' * (count > 1)} in one scan only, not counted")
    if found.rims:
        x, y = found.rims[0].at_mm
        rows.append(
            f"rim: bare along the piece's own outline in {len(found.rims)} place"
            f"{'s' * (len(found.rims) > 1)}, first at ({x:.1f}, {y:.1f}) mm; no fault of the "
            "clearing, but cover it before a bath"
        )
    return rows


def _closing_lines(found: Inspection, plan: PieceToInspect, name: str) -> list[str]:
    limits = (
        f"spots under {found.smallest_mm:.3f} mm are not seen, nor edges less than "
        f"{1000 * found.tolerance_mm:.0f} um off"
    )
    if not found.faults:
        strokes = "stands off from the others" if whole_words(found) else "too wide or narrow"
        return [f"nothing is missing, no pinhole, no stroke {strokes}; {limits}"]
    rows = [limits]
    if any(one.certainty in ("open", "dust") for one in found.faults):
        rows.append(
            "dust or fault? wipe, move the piece on the glass, scan again: stopout inspect "
            f"{name} --plan {plan.folder} --moved SCAN2"
        )
    box = _box(found)
    if box is not None and found.stage == "cleared":
        coat = f" --coat {plan.coat}" if plan.coat > 1 else ""
        rows.append(f"to clear what is missing: stopout rework {plan.folder}{coat} --box {box}")
    return rows


def _box(found: Inspection) -> str | None:
    """A box about all that is missing."""
    boxes = [one.box_mm for one in found.faults if one.kind == "missing"]
    if not boxes:
        return None
    low = [max(min(box[k] for box in boxes) - _BOX_MARGIN_MM, 0) for k in (0, 1)]
    high = [max(box[k] for box in boxes) + _BOX_MARGIN_MM for k in (2, 3)]
    return ",".join(f"{value:.1f}" for value in (*low, *high))


def _pair(point: tuple[float, ...]) -> list[float]:
    return [round(value, 4) for value in point]


def _fault(number: int, one: Fault) -> dict[str, Any]:
    return {
        "number": number,
        "kind": one.kind,
        "at_mm": _pair(one.at_mm),
        "box_mm": _pair(one.box_mm),
        "opening": one.part,
        "whole": one.is_whole,
        "certainty": one.certainty,
        "area_mm2": round(one.area_mm2, 6),
        "diameter_mm": round(one.diameter_mm, 5),
        "offset_mm": None if one.offset_mm is None else round(one.offset_mm, 6),
        "length_mm": None if one.length_mm is None else round(one.length_mm, 4),
    }
