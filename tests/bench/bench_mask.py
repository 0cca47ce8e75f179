"""The tolerant mask against the plain opening, on real lettering and against the clock.

PYTHONPATH=src python tests/bench/bench_mask.py [times]

Prints the table of docs/explanation/tolerant-mask.md and writes its numbers, in full digits, to
lettering_rows.json; or with `times` prints the times. What is finished is swept here by plain
buffers of paths; the masks come from the planner.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from lettering_regions import lettering
from shapely.geometry import MultiPolygon, Point, box

from stopout.mask import make_mask

TEXT = "Raise GATE 25, keep pawl"
TOLERANCE_MM = 0.05
HEIGHTS_MM = (2, 3, 4, 6)
REACHES_MM = (0.05, 0.10, 0.15, 0.20, 0.25)
# Points along an edge stand no farther apart.
SAMPLE_MM = 0.01
# Fine, so that the table compares geometry: corner work under two motor steps is left out.
STEP_MM = 0.0005


@dataclass(frozen=True)
class Errors:
    """Errors of a finished region: worst and mean distance of edges, area of T xor P."""

    worst_mm: float
    mean_mm: float
    area_mm2: float

    @property
    def all(self):
        return (self.worst_mm, self.mean_mm, self.area_mm2)


def finished(mask, reach_mm):
    """The mask's paths swept by the mark and etched: all within the reach, for a round mark."""
    lines = [line.buffer(reach_mm, quad_segs=64) for line in mask.lines.geoms]
    areas = shapely.buffer(np.array(mask.centres.geoms, dtype=object), reach_mm, quad_segs=64)
    return shapely.union_all([*lines, *areas])


def away(region, other):
    """Distances of points along a region's edge to another region, and to its edge."""
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(region.boundary, SAMPLE_MM)))
    to_edge = nearest(points, shapely.get_parts(other.boundary))
    shapely.prepare(other)
    inside = shapely.contains(other, points)
    return np.where(inside, 0.0, to_edge), to_edge


def nearest(points, lines):
    xy, line = shapely.get_coordinates(lines, return_index=True)
    same = line[1:] == line[:-1]
    chords = shapely.linestrings(np.stack([xy[:-1][same], xy[1:][same]], axis=1))
    tree = shapely.STRtree(chords)
    return tree.query_nearest(points, return_distance=True, all_matches=False)[1]


def errors(target, made):
    """Errors both ways: of the drawn edge against what is made, and the other way round."""
    if made.is_empty:
        return Errors(worst_mm=np.inf, mean_mm=np.inf, area_mm2=float(target.area))
    short, drawn = away(target, made)
    beyond, other = away(made, target)
    return Errors(
        worst_mm=float(max(short.max(), beyond.max())),
        mean_mm=float((drawn.mean() + other.mean()) / 2),
        area_mm2=float(target.symmetric_difference(made).area),
    )


PLAIN = {"edge_tolerance_mm": 0.0, "too_thin": "leave-out"}
WIDENED = {"edge_tolerance_mm": 0.0, "too_thin": "widen"}
TOLERANT = {"edge_tolerance_mm": TOLERANCE_MM, "too_thin": "widen", "narrowest_land_mm": 0.15}


def row(height_mm, reach_mm):
    """Errors of the plain opening, of that with its thin strokes widened, of the tolerant mask."""
    target = lettering(TEXT, capital_mm=height_mm)
    mark = 0.8 * reach_mm
    found = []
    for options in (PLAIN, WIDENED, TOLERANT):
        mask = make_mask(
            target,
            undercut_mm=reach_mm - mark / 2,
            mark_mm=(mark, mark),
            step_mm=STEP_MM,
            **options,
        )
        found.append(errors(target, finished(mask, reach_mm)))
    return tuple(found)


ROWS = Path(__file__).with_name("lettering_rows.json")


def all_rows():
    """Every row in full digits; infinite errors, where nothing is made, as null."""
    return [
        {
            "capitals_mm": height,
            "reach_mm": reach,
            **{
                name: [number if np.isfinite(number) else None for number in errors.all]
                for name, errors in zip(
                    ("plain", "widened", "tolerant"), row(height, reach), strict=True
                )
            },
        }
        for height in HEIGHTS_MM
        for reach in REACHES_MM
    ]


def table(rows):
    """The table's lines, in Markdown."""
    lines = [
        "| capitals mm | reach mm | worst um | mean um | T xor P mm2 |",
        "|---|---|---|---|---|",
    ]
    for found in rows:
        masks = [found[name] for name in ("plain", "widened", "tolerant")]
        cells = [
            " / ".join(_number(mask[k], factor, decimals) for mask in masks)
            for k, factor, decimals in ((0, 1000, 1), (1, 1000, 2), (2, 1, 4))
        ]
        lines.append(f"| {found['capitals_mm']} | {found['reach_mm']:.2f} | {' | '.join(cells)} |")
    return lines


def _number(value, factor, decimals):
    return "nothing made" if value is None else f"{factor * value:.{decimals}f}"


def plate(n_vertices):
    """Rings, bars and squares, none of them thin, with about so many vertices."""
    shapes, n, k = [], 0, 0
    columns = max(4, int(np.sqrt(n_vertices / 60)))
    while n < n_vertices:
        x, y = 3.0 * (k % columns), 3.0 * (k // columns)
        if k % 3 == 0:
            shape = Point(x, y).buffer(1.2, 24).difference(Point(x, y).buffer(0.7, 16))
        elif k % 3 == 1:
            shape = box(x - 1, y - 1, x + 1, y + 1).difference(Point(x, y).buffer(0.5, 16))
        else:
            star = np.arange(10) * np.pi / 5
            radius = np.where(np.arange(10) % 2, 0.7, 1.2)
            xy = np.column_stack([x + radius * np.cos(star), y + radius * np.sin(star)])
            shape = shapely.segmentize(shapely.polygons(xy), 0.05)
        shapes.append(shape)
        n += shapely.get_num_coordinates(shape)
        k += 1
    return MultiPolygon(shapes)


def open_close(region, reach_mm):
    """A plain opening and closing of one geometry."""
    opened = region.buffer(-reach_mm, quad_segs=16).buffer(reach_mm, quad_segs=16)
    return opened.buffer(reach_mm, quad_segs=16).buffer(-reach_mm, quad_segs=16)


def timed(function, n=3):
    took = []
    for _ in range(n):
        begin = time.perf_counter()
        function()
        took.append(time.perf_counter() - begin)
    return statistics.median(took)


def lettered(n_vertices):
    """Lines of lettering 6 mm high, whose strokes a reach of 0.11 mm makes."""
    rows, n = [], 0
    while n < n_vertices:
        rows.append(lettering(TEXT, capital_mm=6, at=(0, 9.0 * len(rows))))
        n += shapely.get_num_coordinates(rows[-1])
    return MultiPolygon([part for region in rows for part in region.geoms])


def times():
    for name, make in (("shapes", plate), ("lettering", lettered)):
        for n_vertices in (5_000, 20_000, 100_000):
            target = make(n_vertices)
            plain = timed(lambda target=target: open_close(target, 0.11))
            options = {"undercut_mm": 0.06, "mark_mm": (0.10, 0.10), "step_mm": 0.0125}
            options |= {"edge_tolerance_mm": 0.05, "narrowest_land_mm": 0.15}
            whole = timed(lambda target=target, options=options: make_mask(target, **options))
            places = len(make_mask(target, **options).thin_places)
            print(
                f"{name}, {shapely.get_num_coordinates(target)} vertices, {places} thin: "
                f"open-close {plain:.3f} s, mask {whole:.3f} s, {whole / plain:.2f} times"
            )


if __name__ == "__main__":
    if sys.argv[1:] == ["times"]:
        times()
    else:
        found = all_rows()
        ROWS.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
        print("\n".join(table(found)))
