"""What is made of many parts at once is what is made of each alone, wherever it lies."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy.special import erf
from shapely import affinity
from shapely.geometry import Point, box
from shapely.ops import substring

from clearing import plain_linking, plain_pieces
from clearing.test_choice import AREAS
from clearing.winch_rows import MACHINE
from stopout.clearing.choice import _rows_s
from stopout.clearing.filling.fill import areas_to_fill, left_by_outlines, row_lengths, rows_on
from stopout.clearing.filling.strokes import path_strokes
from stopout.clearing.motion import plan_speeds
from stopout.clearing.moving import pieces as in_pieces
from stopout.clearing.moving.pieces import in_even_pieces
from stopout.clearing.ringed.linking import spirals
from stopout.clearing.ringed.middles import PER_MARK, middles, shortened
from stopout.clearing.ringed.ring_dose import Tracks
from stopout.clearing.ringed.rings import ring_fills
from stopout.clearing.work import Work, filled_strokes
from stopout.mask import dilate_by_mark, erode_by_mark
from stopout.values import Moves

MARK = (0.1, 0.087)
SPACING = {"x": 0.0625, "y": 0.075}
WORK = Work(machine=MACHINE, mark_mm=MARK, spacing_mm=SPACING, power=0.3, speed_mm_s=20.0, passes=1)
# A horseshoe, whose widened rest meets itself, among letters, bars, blots and specks.
SHOE = shapely.Polygon([(0, 0), (3, 0), (3, 3), (1.6, 1), (1.4, 1), (0, 3)])
PARTS = np.array(
    [
        SHOE,
        *shapely.get_parts(AREAS["letters"]),
        *shapely.get_parts(AREAS["blots"]),
        *shapely.get_parts(AREAS["bars"])[:4],
        Point(1, 1).buffer(0.4).difference(Point(1, 1).buffer(0.2)),
        box(0, 0, 0.04, 0.04),
    ],
    dtype=object,
)


def test_rings_of_many_parts_are_those_of_each_alone():
    together = ring_fills(PARTS, mark_mm=MARK, spacing_mm=SPACING)
    assert any(rings is not None and any(r.depth % 1 for r in rings) for rings in together)
    for part, rings in zip(PARTS, together, strict=True):
        (alone,) = ring_fills([part], mark_mm=MARK, spacing_mm=SPACING)
        assert (alone is None) == (rings is None)
        for one, other in zip(alone or [], rings or [], strict=True):
            assert one.depth == other.depth
            assert one.points_mm == pytest.approx(other.points_mm, abs=1e-9)


@pytest.mark.parametrize("along", ["x", "y"])
def test_lines_cut_on_one_strip_are_as_long_and_as_many_as_those_cut_part_by_part(along):
    # No edge lies along a line: which side of it a line runs, rounding would decide.
    parts = np.array([affinity.rotate(part, 5) for part in PARTS], dtype=object)
    left = left_by_outlines(parts, mark_mm=MARK)
    laid = {"mark_mm": MARK, "spacing_mm": SPACING[along], "along": along}
    areas = areas_to_fill(left, **laid)
    fills = ~shapely.is_empty(areas)
    length, count = row_lengths(areas[fills], parts[fills], **laid, bridge_mm=0.5)
    rows = [
        rows_on(area, part, **laid, bridge_mm=0.5)
        for area, part in zip(areas[fills], parts[fills], strict=True)
    ]
    assert count.tolist() == [len(found) for found in rows]
    plain = [sum(row.spans_mm[-1, 1] - row.spans_mm[0, 0] for row in found) for found in rows]
    assert length == pytest.approx(plain, abs=1e-6)


def test_areas_left_by_outlines_and_filled_are_those_of_each_part_alone():
    slack = tuple(axis - 0.002 for axis in MARK)
    left = left_by_outlines(PARTS, mark_mm=MARK)
    areas = areas_to_fill(left, mark_mm=MARK, spacing_mm=0.0625, along="x")
    share = tuple(axis * 0.0625 / MARK[1] for axis in MARK)
    for part, rest, area in zip(PARTS, left, areas, strict=True):
        # Chords may stand off the curve, by no more than the slack of what an outline clears.
        for one, other in ((rest, erode_by_mark(part, slack)), (area, dilate_by_mark(rest, share))):
            assert one.symmetric_difference(other).buffer(-0.0005).is_empty
            assert one.is_empty == other.is_empty


@pytest.mark.parametrize("spacing", [0.05, 0.08, 0.12, 0.2])
@pytest.mark.parametrize(("along", "mark"), [("x", (0.12, 0.1)), ("y", (0.1, 0.12))])
def test_lines_run_on_what_an_outline_leaves_and_half_a_spacing_round_but_never_beyond_it(
    spacing, along, mark
):
    """Of a box, by plain arithmetic; lines may be farther apart than the mark of 0.1 is wide."""
    left = left_by_outlines(np.array([box(0, 0, 2, 1)]), mark_mm=mark)
    (area,) = areas_to_fill(left, mark_mm=mark, spacing_mm=spacing, along=along)
    share = min(spacing / 0.1, 1.0)
    x, y = ((1 - share) * axis / 2 - 0.001 for axis in mark)
    assert area.bounds == pytest.approx((x, y, 2 - x, 1 - y), abs=1e-4)


def test_a_part_that_is_like_another_gets_its_strokes_moved():
    by = np.array([[7.3, 0.0], [0.0, 9.1], [-3.20004, 11.7]])
    part = PARTS[2]
    areas = [part, *(affinity.translate(part, *shift) for shift in by)]
    made = WORK.ringed(WORK.parts(areas, ("x", "y")))
    alone = [WORK.ringed(WORK.parts([area], ("x", "y")))[0] for area in areas]
    assert made[0].spirals
    assert made[0].outlines
    for one, other in zip(made, alone, strict=True):
        for mine, its in zip(one.outlines, other.outlines, strict=True):
            # Both are rounded to the program's decimals.
            assert np.abs(mine.points_mm - its.points_mm).max() <= 1.01e-4
        # Where a sliver's line runs, rounding decides within its width; what is swept is the same.
        swept = [
            shapely.union_all(
                [shapely.LineString(s.points_mm).buffer(MARK[1] / 2) for s in strokes]
            )
            for strokes in (one.spirals, other.spirals)
        ]
        assert shapely.symmetric_difference(*swept).area < 0.002 * swept[0].area
        for along in ("x", "y"):
            pair = [shapely.MultiPolygon(p.to_fill[along]) for p in (one, other)]
            assert shapely.hausdorff_distance(*pair) < 1e-4


def test_pieces_of_an_outline_keep_its_way_and_change_speed_by_little():
    angle = np.linspace(0, 7, 200)
    bend = np.column_stack([(1 + angle) * np.cos(3 * angle), angle * np.sin(2 * angle)])
    points = np.vstack([[[0, 0]], bend, [[0, 0]]]).round(4)
    rapid = np.zeros(len(points), dtype=bool)
    rapid[[0, -1]] = True
    moves = Moves(
        x_mm=points[:, 0],
        y_mm=points[:, 1],
        rapid=rapid,
        speed_mm_s=np.where(rapid, 100.0, 30.0),
        power=np.where(rapid, 0.0, 0.3),
    )
    pieces, is_outline = in_even_pieces(moves, ~rapid, MACHINE)
    assert len(pieces) > len(moves)
    assert is_outline.sum() == len(pieces) - 2
    ends = {tuple(point) for point in pieces.end_mm.tolist()}
    assert all(tuple(point) in ends for point in points.tolist())
    way = shapely.LineString(np.vstack([[0, 0], points]))
    off = shapely.distance(shapely.points(pieces.end_mm), way)
    assert off.max() <= 1e-4
    assert pieces.length_mm.sum() == pytest.approx(moves.length_mm.sum(), rel=1e-4)
    assert np.all(pieces.length_mm[is_outline] >= 0.9 * min(MACHINE.step_mm, 0.005))


def test_a_straight_edge_is_parted_alike_at_both_ends_and_takes_no_longer():
    """Entered and left at 6 mm/s its speed rises as it falls, and parting it changes no speed."""
    moves = Moves(
        x_mm=np.array([0.03, 10.03, 10.06, 0.0]),
        y_mm=np.zeros(4),
        rapid=np.array([False, False, False, True]),
        speed_mm_s=np.array([6.0, 30.0, 6.0, 100.0]),
        power=np.array([0.0, 0.3, 0.0, 0.0]),
    )
    pieces, is_outline = in_even_pieces(moves, moves.power > 0, MACHINE)
    length = pieces.length_mm[is_outline]
    assert len(length) > 10
    np.testing.assert_allclose(length, length[::-1], atol=0.02)
    assert (pieces.speed_mm_s[is_outline] == 30).all()
    limits = {"acceleration_mm_s2": 800.0, "cornering_mm": 0.01}
    before, after = (plan_speeds(one, **limits).time_s.sum() for one in (moves, pieces))
    assert after == pytest.approx(before, rel=3e-3)


@pytest.mark.parametrize("speed_mm_s", [20.0, 90.0])
def test_spirals_of_many_parts_are_those_that_rings_give_one_after_another(speed_mm_s):
    found = [rings or [] for rings in ring_fills(PARTS, mark_mm=MARK, spacing_mm=SPACING)]
    settings = {"apart_mm": 0.075, "machine": MACHINE, "speed_mm_s": speed_mm_s}
    work = replace(WORK, speed_mm_s=speed_mm_s)
    together = spirals(found, PARTS, **settings)
    plain = [plain_linking.spirals(r, p, **settings) for r, p in zip(found, PARTS, strict=True)]
    assert spirals([[], []], PARTS[:2], **settings) == [[], []]
    for rings, mine, its in zip(found, together, plain, strict=True):
        vertices = {tuple(xy) for path in mine for xy in path.tolist()}
        assert all(tuple(xy) in vertices for ring in rings for xy in ring.points_mm[:-1].tolist())
        times = [work.strokes_s(path_strokes([way], MACHINE)[0]) for way in (mine, its)]
        assert times[0] <= 1.01 * times[1]
    jumps = [np.hypot(*np.diff(path, axis=0).T).max() for mine in together for path in mine]
    assert max(jumps) <= max(
        np.hypot(*np.diff(ring.points_mm, axis=0).T).max() for some in found for ring in some
    )


def plain_middle(points):
    """The line half way between the sides of one sliver, whose edge is not closed."""
    gap = points[:, None] - points[None, :]
    first, last = np.unravel_index(int(np.argmax((gap**2).sum(axis=-1))), gap.shape[:2])
    low, high = sorted((int(first), int(last)))
    sides = (points[low : high + 1], np.vstack([points[high:], points[: low + 1]])[::-1])
    ways = [np.append(0.0, np.cumsum(np.hypot(*np.diff(side, axis=0).T))) for side in sides]
    n = max(2, int(np.ceil(max(way[-1] for way in ways) / PER_MARK)) + 1)
    at = [np.linspace(0, way[-1], n) for way in ways]
    return (
        sum(
            np.column_stack([np.interp(a, way, side[:, axis]) for axis in (0, 1)])
            for a, way, side in zip(at, ways, sides, strict=True)
        )
        / 2
    )


def test_middle_lines_of_many_slivers_are_those_of_each_alone():
    edges = shapely.get_exterior_ring(np.array([*PARTS, box(0, 0, 3, 0.1)], dtype=object))
    found = middles(edges)
    for edge, line in zip(edges, found, strict=True):
        plain = plain_middle(shapely.get_coordinates(edge)[:-1])
        assert shapely.get_coordinates(line) == pytest.approx(plain, abs=1e-9)
    long = found[shapely.length(found) > 1]
    for line, short in zip(long, shortened(long, 0.2), strict=True):
        assert short.equals_exact(substring(line, 0.2, line.length - 0.2), 1e-9)
    assert not len(middles(edges[:0]))
    assert not len(shortened(found[:0], 0.2))


@pytest.mark.parametrize("seed", range(3))
def test_speeds_evened_out_all_at_once_are_those_evened_out_round_after_round(seed):
    rng = np.random.default_rng(seed)
    turn = np.cumsum(rng.normal(0, 0.5, 400))
    step = rng.choice([0.01, 0.05, 0.3], 400)[:, None]
    points = np.cumsum(step * np.column_stack([np.cos(turn), np.sin(turn)]), axis=0).round(4)
    rapid = np.zeros(400, dtype=bool)
    rapid[[0, -1]] = True
    moves = Moves(
        x_mm=points[:, 0],
        y_mm=points[:, 1],
        rapid=rapid,
        speed_mm_s=np.where(rapid, 100.0, 40.0),
        power=np.where(rapid, 0.0, 0.3),
    )
    may_cap = ~rapid & (rng.random(400) < 0.9)
    may_cap[[1, -2]] = False
    mine, plain = (way(moves, may_cap, MACHINE) for way in (in_pieces._capped, plain_pieces.capped))
    assert (mine.speed_mm_s < moves.speed_mm_s).any()
    mine, plain = (in_pieces.planned(found, MACHINE) for found in (mine, plain))
    # A cap is rounded up by 0.001 mm/s; steps add that up, or not.
    np.testing.assert_allclose(mine.peak_mm_s, plain.peak_mm_s, rtol=0.002, atol=0.005)
    assert mine.time_s.sum() == pytest.approx(plain.time_s.sum(), rel=5e-4)
    slow = np.minimum(mine.vertex_mm_s[:-1], mine.vertex_mm_s[1:])
    assert (mine.peak_mm_s <= 1.3 * slow + 0.0011)[may_cap].all()


def test_the_dose_of_a_straight_track_is_a_gaussian_line_s_however_it_is_parted():
    """By closed form: exp(-2 y^2 / w^2) (erf(sqrt 2 x / w) - erf(sqrt 2 (x - L) / w)) / 2."""
    rng = np.random.default_rng(7)
    at = np.cumsum(rng.choice([0.02, 0.3, 9.0], 30))
    tracks = Tracks(
        [np.column_stack([at - at[0], np.full(30, y)]) for y in (0.0, 0.0, 2.0)],
        np.array([0, 0, 1]),
    )
    # The width of half the height is a mark.
    length, w = at[-1] - at[0], 1 / math.sqrt(2 * math.log(2))
    x, y = rng.uniform(-2, length + 2, 500), rng.uniform(-3, 3, 500)
    along = erf(math.sqrt(2) / w * x) - erf(math.sqrt(2) / w * (x - length))
    for asker, off in ((0, y), (1, y - 2)):
        dose = tracks.dose(np.column_stack([x, y]), np.full(500, asker))
        assert dose == pytest.approx(np.exp(-2 * off**2 / w**2) * along / 2, abs=1.5e-3)


def test_no_track_brings_no_dose():
    nothing = Tracks([], np.array([], dtype=np.int64))
    assert nothing.dose(np.array([[0.0, 0.0], [1.0, 2.0]]), np.array([0, 1])).tolist() == [0, 0]


@pytest.mark.parametrize("along", ["x", "y"])
def test_many_short_lines_take_what_their_length_and_a_turn_each_are_reckoned_to(along):
    area = box(2, 2, 3.1, 10) if along == "x" else box(2, 2, 10, 3.1)
    parts = WORK.parts([area], [along])
    strokes = filled_strokes(WORK.rows(parts, along), along, (0.0, 0.0))
    time_s, travel_s = WORK.stroke_times_s(strokes)
    assert len(strokes) > 90
    # But for the way to the first, and the runs before it and behind the last.
    due = time_s[1:-1].mean() * len(strokes) + travel_s[1:].mean() * len(strokes)
    assert _rows_s(parts, WORK, along)[0] == pytest.approx(due, rel=0.01)
