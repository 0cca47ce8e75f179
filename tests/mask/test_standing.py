"""What masks of known drawings open and finish: the numbers that stand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon, affinity, box

from mask.rows import ROWS, in_a_row
from shapes import ALL, random_polygon
from standing import stands
from stopout.mask import (
    as_multipolygon,
    cleared_by,
    dilate,
    local_widths,
    lost_bridges,
    make_mask,
    narrowest,
    reach_mm,
    widen_lands,
)
from stopout.outcome import changed_parts, judge

FACE = box(-1, -1, 30, 20)
# Strokes that taper, bend, fork and end in points; counters and lands that all but close.
FORK = shapely.union_all(
    [
        LineString(way).buffer(0.5 * wide, cap_style="flat")
        for way, wide in (
            ([(0, 0), (3, 1), (4, 4)], 0.12),
            ([(3, 1), (6, 0)], 0.18),
            ([(4, 4), (2, 6), (0, 4)], 0.15),
            ([(4, 4), (7, 4)], 0.3),
        )
    ]
)
COMB = shapely.union_all([box(0, 0, 8, 1), *[box(k, 1, k + 0.7 + 0.03 * k, 3) for k in range(8)]])
TAPERS = shapely.union_all(
    [Polygon([(0, 3 * k), (6, 3 * k + 0.1 * k), (6, 3 * k + 0.4), (0, 3 * k + 0.25)])
     for k in range(3)]
)  # fmt: skip
CLOSE = MultiPolygon(
    [
        Point(2, 2).buffer(2, 24).difference(Point(2, 2).buffer(0.12, 24)),
        Point(6.1, 2).buffer(2, 24).difference(box(5.5, 1.5, 6.9, 1.62)),
        box(0, 4.15, 8, 6).difference(box(1, 4.5, 7, 4.62)).difference(box(2, 5, 2.3, 5.3)),
    ]
)
STARS = shapely.union_all(
    [affinity.translate(random_polygon(np.random.default_rng(k)), 4.3 * k) for k in range(5)]
)
DRAWN = {name: ALL[name] for name in ("ring", "neck", "stub", "needle", "glyph", "thin slot")}
DRAWN |= {"fork": FORK, "comb": COMB, "tapers": TAPERS, "close": CLOSE, "stars": STARS}
SETTINGS = {
    "widened": {"undercut_mm": 0.06, "mark_mm": (0.1, 0.1), "edge_tolerance_mm": 0.05},
    "left out": {
        "undercut_mm": 0.03,
        "mark_mm": (0.12, 0.08),
        "edge_tolerance_mm": 0.02,
        "narrowest_land_mm": 0.12,
        "step_mm": 0.0125,
        "too_thin": "leave-out",
    },
}


THIN = {
    "width": "width_mm", "narrowest": "narrowest_mm", "expected": "expected_mm",
    "length": "length_mm", "joins": "joins_parts", "spoils": "spoils_land",
}  # fmt: skip
LAND = {"width": "width_mm", "needed": "needed_mm", "length": "length_mm", "widened": "is_widened"}


def of_first(kind, places, told):
    """The first six places from the left, each by what is told of it."""
    return {
        f"{kind} {k} {name}": value
        for k, one in enumerate(sorted(places, key=lambda one: one.at_mm)[:6])
        for name, value in (
            ("x", one.at_mm[0]),
            *((name, getattr(one, field)) for name, field in told.items()),
        )
    }


@pytest.mark.parametrize("how", SETTINGS)
@pytest.mark.parametrize("name", sorted(DRAWN))
def test_a_drawing_is_opened_and_finished_as_it_was(name, how):
    target, laws = as_multipolygon(DRAWN[name]), SETTINGS[how]
    mask = make_mask(target, **laws)
    opening = cleared_by(mask, laws["mark_mm"])
    finished = dilate(opening, laws["undercut_mm"])
    reach = reach_mm(laws["undercut_mm"], laws["mark_mm"])
    tolerance = laws["edge_tolerance_mm"]
    verdict = judge(target=target, finished=finished, reach_mm=reach, edge_tolerance_mm=tolerance)
    changed = changed_parts(target, finished, reach_mm=reach, edge_tolerance_mm=tolerance)
    stands(
        f"mask {name}, {how}",
        {
            "centres_mm2": mask.centres.area,
            "rims_mm": mask.centres.length,
            "lines": len(mask.lines.geoms),
            "lines_mm": mask.lines.length,
            "opened_mm2": opening.area,
            "finished_mm2": finished.area,
            "thin": len(mask.thin_places),
            "outside_mm": verdict.worst_outside_mm,
            "inside_mm": verdict.worst_inside_mm,
            "lost": verdict.lost,
            "merged": verdict.merged,
            "widened": verdict.widened,
            "too_much_mm2": verdict.too_much.area,
            "too_little_mm2": verdict.too_little.area,
            "changed": len(changed),
            "changed_share": sum(one.share for one in changed),
            "changed_mm2": sum(one.region.area for one in changed),
            **of_first("thin", mask.thin_places, THIN),
        },
    )


@pytest.mark.parametrize("name", sorted(DRAWN))
def test_lands_bridges_and_widths_are_measured_as_they_were(name):
    target = as_multipolygon(DRAWN[name])
    given, lands = widen_lands(target, FACE, needed_mm=0.35, edge_tolerance_mm=0.08, reach_mm=0.11)
    finished = dilate(target, 0.1)
    widths, land = local_widths(target, FACE)
    bridges = lost_bridges(
        target,
        dilate(target, 0.02),
        finished,
        finished.difference(target),
        land=lambda: land,
        n_filled=0,
        undercut_mm=0.08,
    )
    stands(
        f"widths {name}",
        {
            "narrowest_mm": narrowest(target).width_mm,
            "but_points_mm": narrowest(target, leave_out_points=True).width_mm,
            "land_mm": narrowest(FACE.difference(target), start_mm=0.3).width_mm,
            "given_mm2": given.area,
            "lands": len(lands),
            "axis_mm": widths.length_mm.sum(),
            "land_axis_mm": land.length_mm.sum(),
            **{f"width {k}": one for k, one in enumerate(widths.quantiles((0.1, 0.5, 0.9)))},
            "bridges": len(bridges),
            **{
                f"bridge {k} {j}": part
                for k, one in enumerate(bridges[:4])
                for j, part in enumerate((one.at_mm[0], one.drawn_mm, one.resist_mm, *one.over_mm))
            },
            **of_first("land", lands, LAND),
        },
    )


@pytest.mark.parametrize("how", SETTINGS)
@pytest.mark.parametrize("row", sorted(ROWS))
def test_a_row_of_drawings_is_opened_as_it_was(row, how):
    drawn, cells = in_a_row(ROWS[row])
    target, laws = as_multipolygon(drawn), SETTINGS[how]
    mask = make_mask(target, **laws)
    beyond = dilate(cleared_by(mask, laws["mark_mm"]), laws["undercut_mm"]).difference(target)
    told = {"beyond_mm2": beyond.area}
    for k, cell in enumerate(cells):
        thin = [one for one in mask.thin_places if cell.contains(shapely.Point(one.at_mm))]
        told[f"{k} lines_mm"] = mask.lines.intersection(cell).length
        told[f"{k} centres_mm2"] = mask.centres.intersection(cell).area
        told[f"{k} outside_mm"] = farthest(beyond.intersection(cell), target)
        told[f"{k} thin"] = len(thin)
        told[f"{k} made"] = sum(one.treatment in ("made", "widened") for one in thin)
        told[f"{k} length_mm"] = sum(one.length_mm for one in thin)
        told[f"{k} width_mm"] = sum(one.width_mm for one in thin)
        told[f"{k} narrowest_mm"] = sum(one.narrowest_mm for one in thin)
        told[f"{k} spoils"] = sum(one.spoils_land for one in thin)
        told[f"{k} joins"] = sum(one.joins_parts for one in thin)
    stands(f"row of {row}, {how}", told, least=1e-3)


def farthest(beyond, target):
    """How far a region goes beyond another at the most."""
    points = shapely.points(shapely.get_coordinates(beyond.segmentize(0.02)))
    return shapely.distance(points, target).max(initial=0.0)


@pytest.mark.parametrize("row", ["chains", "corners", "counters", "lands", "pairs", "tapers"])
def test_a_row_s_widths_lands_and_bridges_are_measured_as_they_were(row):
    drawn, cells = in_a_row(ROWS[row])
    target, face = as_multipolygon(drawn), box(*drawn.bounds).buffer(1)
    given, lands = widen_lands(target, face, needed_mm=0.35, edge_tolerance_mm=0.08, reach_mm=0.11)
    finished = dilate(target, 0.1)
    excess = finished.difference(target)
    widths, land = local_widths(target, face)
    bridges = lost_bridges(
        target,
        dilate(target, 0.02),
        finished,
        excess,
        land=land,
        n_filled=0,
        undercut_mm=0.08,
    )
    told = {"first": bool(lands) and lands[0].is_widened}
    for k, cell in enumerate(cells):
        own = as_multipolygon(target.intersection(cell))
        here = [one for one in bridges if cell.contains(shapely.Point(one.at_mm))]
        told[f"{k} narrowest_mm"] = narrowest(own, start_mm=0.1).width_mm
        told[f"{k} but_points_mm"] = narrowest(own, leave_out_points=True).width_mm
        told[f"{k} land_mm"] = narrowest(cell.difference(own), start_mm=0.3).width_mm
        told[f"{k} given_mm2"] = given.intersection(cell).area
        told[f"{k} lands_mm"] = sum(one.length_mm for one in lands if cell.intersects(one.region))
        told[f"{k} lands"] = sum(cell.intersects(one.region) for one in lands)
        told[f"{k} lands_mm2"] = sum(cell.intersection(one.region).area for one in lands)
        told[f"{k} bridges"] = len(here)
        for j, one in enumerate(here[:3]):
            told[f"{k} bridge {j}"] = one.drawn_mm
            told[f"{k} resist {j}"] = one.resist_mm
            told[f"{k} over {j}"] = sum(one.over_mm)
        for name, found in (("target", widths), ("land", land)):
            inside = shapely.contains_xy(cell, *found.at_mm.T)
            told[f"{k} {name} axis_mm"] = found.length_mm[inside].sum()
            told[f"{k} {name} mean_mm"] = found.width_mm[inside] @ found.length_mm[inside]
    stands(f"widths of a row of {row}", told, least=1e-3)
