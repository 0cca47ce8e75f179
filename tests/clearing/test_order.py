"""The order of the work: every item once, and never farther than as it comes."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Point, box

from clearing.winch_rows import MACHINE, outline_strokes, rows_of
from shapes import ALL
from stopout.clearing.filling.edges import _closed_and_smooth, _spread, order_outlines
from stopout.clearing.filling.order import chain_rows, order_cells, quicker_order
from stopout.clearing.filling.strokes import line_strokes
from stopout.clearing.filling.tour import nearest_first, travel_mm


def travel(strokes, start=(0.0, 0.0)):
    """Beam-off way from the end of each stroke to the beginning of the next."""
    total, here = 0.0, start
    for stroke in strokes:
        total += math.dist(here, stroke.points_mm[0])
        here = stroke.points_mm[-1]
    return total


def dots(places):
    """Short lines, as thin strokes give them, in the order of the file."""
    return line_strokes(
        MultiLineString([LineString([(x, y), (x + 0.02, y)]) for x, y in places]), MACHINE
    )


def test_the_nearest_next_entry_is_taken_first():
    entries = np.array([[[5.0, 0.0]], [[1.0, 0.0]], [[2.0, 0.0]]])
    chosen, end = nearest_first(entries, entries, start_mm=(0.0, 0.0))
    assert chosen == [(1, 0), (2, 0), (0, 0)]
    assert end == (5.0, 0.0)


def test_outlines_that_come_in_a_good_order_keep_it():
    """The smallest case: going to the nearest first crosses over twice, 7.90 mm against 5.86."""
    start, strokes = (10.0, 0.0), dots([(8.8, 0), (11, 0), (13.5, 0)])
    assert travel(order_outlines(strokes, start_mm=start), start) <= travel(strokes, start) + 1e-9


def test_outlines_are_never_ordered_worse_than_as_they_come():
    worse = []
    for seed in range(400):
        rng = np.random.default_rng(seed)
        strokes = dots(rng.integers(0, 60, (rng.integers(2, 7), 2)) / 2)
        more = travel(order_outlines(strokes, start_mm=(0.0, 0.0))) - travel(strokes)
        if more > 1e-9:
            worse.append((seed, round(more, 2)))
    assert worse == []


@pytest.mark.parametrize("seed", range(6))
def test_many_outlines_in_no_order_are_worked_with_less_than_half_the_travel(seed):
    places = np.random.default_rng(seed).uniform(0, 60, (80, 2))
    rings = MultiPolygon([box(x, y, x + 0.3, y + 0.3) for x, y in places])
    strokes = outline_strokes(rings, MACHINE)
    assert travel(order_outlines(strokes, start_mm=(0.0, 0.0))) < 0.5 * travel(strokes)


def test_each_of_several_outlines_begins_at_the_nearest_of_its_smooth_places():
    """Of 24 places evenly round a circle the nearest is at most half their distance away."""
    circles = MultiPolygon([Point(x, 0).buffer(1, quad_segs=48) for x in (0, 10, 20)])
    ordered = order_outlines(outline_strokes(circles, MACHINE), start_mm=(-5.0, 0.0))
    begun = [stroke.points_mm[0] for stroke in ordered]
    np.testing.assert_allclose(begun, [[-1, 0], [9, 0], [19, 0]], atol=1.2 * math.pi / 24)


def test_vertices_nearer_than_a_motor_step_go_where_the_path_hardly_changes():
    angle = np.linspace(0, 1, 2000)
    arc = np.column_stack([2 * np.cos(angle), 2 * np.sin(angle)])
    (stroke,) = line_strokes(MultiLineString([LineString(arc)]), MACHINE)
    length = np.hypot(*np.diff(stroke.points_mm, axis=0).T)
    assert (length[:-1] >= MACHINE.step_mm - 1e-3).all()
    assert len(length) < 2.0 / MACHINE.step_mm + 2
    off = shapely.hausdorff_distance(LineString(stroke.points_mm), LineString(arc))
    # 1.2 um (our own), and the rounding to a program's decimals.
    assert off < 0.0013
    assert stroke.points_mm[[0, -1]] == pytest.approx(arc[[0, -1]], abs=1e-4)


def same_way(one, other):
    """Whether two strokes cover the same path, wherever they begin and whichever way they go."""
    return shapely.equals(
        shapely.unary_union(LineString(one.points_mm)),
        shapely.unary_union(LineString(other.points_mm)),
    )


def test_every_outline_is_worked_just_once_and_whole():
    rings = MultiPolygon(
        [
            box(0, 0, 2, 2).difference(box(0.5, 0.5, 1.5, 1.5)),
            Point(5, 5).buffer(1),
            box(8, 0, 9, 4),
        ]
    )
    strokes = outline_strokes(rings, MACHINE) + dots([(3.0, 7.0), (9.0, 9.0)])
    ordered = order_outlines(strokes, start_mm=(0.0, 0.0))
    assert len(ordered) == len(strokes) == 6
    for stroke in strokes:
        assert sum(same_way(stroke, other) for other in ordered) == 1


def test_a_closed_outline_begins_where_it_hardly_turns_if_it_can():
    ring = box(0, 0, 4, 4).buffer(0.5, quad_segs=32)
    (stroke,) = order_outlines(outline_strokes(ring, MACHINE), start_mm=(-1.0, -1.0))
    x, y = stroke.points_mm[0]
    assert stroke.is_closed
    first, last = (
        stroke.points_mm[1] - stroke.points_mm[0],
        stroke.points_mm[-1] - stroke.points_mm[-2],
    )
    turn = math.atan2(first[0] * last[1] - first[1] * last[0], first @ last)
    assert abs(turn) < math.radians(25)
    assert ring.boundary.distance(Point(x, y)) < 1e-4


@pytest.mark.parametrize("along", ["x", "y"])
@pytest.mark.parametrize("name", ["disc", "ring", "rectangle", "glyph", "neck"])
def test_cells_hold_every_row_just_once(name, along):
    rows = rows_of(ALL[name], along)
    ordered, _ = order_cells(chain_rows(rows), start_mm=(0.0, 0.0), along=along)
    worked = [id(row) for cell in ordered for row, _ in cell]
    assert sorted(worked) == sorted(id(row) for row in rows)


@pytest.mark.parametrize("name", ["disc", "ring", "rectangle", "glyph"])
def test_rows_of_a_cell_follow_line_by_line_and_back_and_forth(name):
    ordered, _ = order_cells(chain_rows(rows_of(ALL[name], "x")), start_mm=(0.0, 0.0), along="x")
    for cell in ordered:
        steps = np.diff([row.index for row, _ in cell])
        assert len(set(steps.tolist())) <= 1
        assert (np.abs(steps) == 1).all()
        assert all(one != other for (_, one), (_, other) in pairwise(cell))


def test_a_rectangle_is_one_cell_and_a_ring_has_four():
    """Above and below the hole a cell each, left and right of it a cell each."""
    assert len(chain_rows(rows_of(ALL["rectangle"], "x"))) == 1
    assert len(chain_rows(rows_of(ALL["ring"], "x"))) == 4


def cell_travel(ordered, along, start=(0.0, 0.0)):
    total, here = 0.0, start
    for cell in ordered:
        for row, forwards in cell:
            ends = [(row.spans_mm[0, 0], row.height_mm), (row.spans_mm[-1, 1], row.height_mm)]
            if along == "y":
                ends = [end[::-1] for end in ends]
            first, last = ends if forwards else ends[::-1]
            total, here = total + math.dist(here, first), last
    return total


@pytest.mark.parametrize("along", ["x", "y"])
@pytest.mark.parametrize("name", ["disc", "ring", "rectangle", "glyph", "neck", "island in hole"])
def test_the_fill_travels_no_farther_than_row_by_row_as_they_come(name, along):
    rows = rows_of(ALL[name], along)
    ordered, end = order_cells(chain_rows(rows), start_mm=(0.0, 0.0), along=along)
    plain = [[(row, k % 2 == 0) for k, row in enumerate(rows)]]
    assert cell_travel(ordered, along) <= cell_travel(plain, along) + 1e-9
    assert end == pytest.approx(end_of(ordered, along))


def end_of(ordered, along):
    row, forwards = ordered[-1][-1]
    x = row.spans_mm[-1, 1] if forwards else row.spans_mm[0, 0]
    return (x, row.height_mm) if along == "x" else (row.height_mm, x)


@pytest.mark.parametrize("start", [(0.0, 0.0), (10.0, 0.0)])
def test_an_open_line_is_begun_at_its_nearer_end(start):
    way = [(9.0, 0.0), (5.0, 3.0), (1.0, 0.0)]
    (line,) = order_outlines(
        line_strokes(MultiLineString([LineString(way)]), MACHINE), start_mm=start
    )
    assert line.points_mm.tolist() == [list(at) for at in (way[::-1] if start[0] < 5 else way)]


@pytest.mark.parametrize(("corners", "is_smooth"), [(14, False), (15, True)])
def test_a_corner_of_less_than_25_degrees_is_smooth(corners, is_smooth):
    """Of a regular polygon 360 degrees / n, with the middles of its sides."""
    angle = np.linspace(0, 2 * math.pi, corners + 1)
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    sides = np.stack([ring[:-1], (ring[:-1] + ring[1:]) / 2], axis=1).reshape(-1, 2)
    points = np.vstack([sides, sides[:1]])
    is_closed, smooth = _closed_and_smooth(points, np.array([0, len(points)]))
    assert is_closed.all()
    assert smooth[1::2].all()
    assert (smooth[:-1:2] == is_smooth).all()


def test_places_to_begin_at_are_smooth_ones_and_no_more_than_there_are():
    """A square with one bend that is smooth; a path of three; then as many as are looked at."""
    smooth = np.zeros(40, dtype=bool)
    smooth[[3, 6, 7, 9]] = smooth[12:36] = True
    places = _spread(smooth, np.array([0, 5, 11, 40]))
    assert [row[row >= 0].tolist() for row in places][:2] == [[3], [1, 2, 4]]
    assert (places[0][1:] == -1).all()
    assert (places[1][3:] == -1).all()
    assert places[2].tolist() == list(range(1, 25))


@pytest.mark.parametrize("seed", range(6))
def test_a_draft_is_the_shorter_of_nearest_first_and_as_they_come_and_a_plan_shorter_still(seed):
    """Short lines in no order, and, of every other seed, in rows to and fro."""
    rng = np.random.default_rng(seed)
    x, row = rng.uniform(0, 20, 40), np.arange(40) // 10
    at = np.column_stack([np.where(row % 2, -1, 1) * x, 4 * row + rng.uniform(0, 0.5, 40)])
    if seed % 2 == 0:
        at = np.abs(at[np.lexsort((at[:, 0], row))])
    entries = np.stack([at, at + np.array([0.1, 0.0])], axis=1)
    exits = entries[:, ::-1]
    start = (0.0, 0.0)
    laid = {"entries": entries, "exits": exits, "start_mm": start}
    ways = [nearest_first(**laid)[0], [(item, 0) for item in range(40)]]
    (draft, _), (plan, _) = (quicker_order(**laid, is_draft=way) for way in (True, False))
    shorter = min(ways, key=lambda visits: travel_mm(visits, entries, exits, start))
    assert draft == shorter
    assert travel_mm(plan, entries, exits, start) < travel_mm(draft, entries, exits, start)
