"""Dots cleared by a dwell, held against a Gaussian beam that a test moves through the text itself.

The second instrument reads the program's words with a pattern of its own, lights a Gaussian of the
job's spot for as long as each step's length and feed say, and takes as cleared what gets the
threshold fluence. It shares nothing with the planner but the text.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from shapely import Point, affinity, box, unary_union

from jobmaker import MACHINE, UNDERCUT, codes, make_job, mark, plan
from stopout.clearing import DwellBeam, plan_speeds
from stopout.clearing.dots import _block, _Dot, _dot, _ordered, may_dwell
from stopout.clearing.moving.program_times import measure_program
from stopout.program import prove_text
from stopout.values import MOST_DWELL_S, Moves

W = 0.085  # 1/e^2 radius of jobmaker's spot of 0.17 mm
AT = [(2.0 + 0.6 * i, 2.0 + 0.6 * j) for i in range(4) for j in range(2)]


def discs(diameter_mm, places=AT):
    """Artwork whose resist opening is discs of this diameter."""
    return unary_union(
        [Point(at).buffer(diameter_mm / 2 + UNDERCUT, quad_segs=64) for at in places]
    )


@cache
def planned(diameter_mm=0.15, mark_mm=0.12, speed=20.0, passes=1, **machine):
    return plan(
        discs(diameter_mm),
        machine={"beam_at_rest": True} | machine,
        clearing={"mark_mm": mark(mark_mm), "speed_mm_s": speed, "passes": passes},
        limits={"edge_tolerance_mm": 0.05},
    )


def burns(text):
    """(x, y, seconds of full power, length) of each step with the beam on."""
    x = y = feed = power = 0.0
    out = []
    for line in text.splitlines():
        words = dict(re.findall(r"([XYFS])(-?[\d.]+)", re.sub(r"\(.*?\)", "", line)))
        feed, power = float(words.get("F", feed)), float(words.get("S", power))
        if "X" not in words:
            continue
        to = float(words["X"]), float(words["Y"])
        if line.startswith("G1") and power:
            length = math.hypot(to[0] - x, to[1] - y)
            energy = power / 1000 * length / (feed / 60)
            out.append(((x + to[0]) / 2, (y + to[1]) / 2, energy, length))
        x, y = to
    return np.array(out)


def threshold_fluence(mark_mm, power=0.3, speed=20.0, passes=1):
    """Fluence [full-power s/mm2] at the edge of a line that clears the mark, passes added."""
    peak = math.sqrt(2 / math.pi) * passes * power / speed / W
    return peak * math.exp(-2 * (mark_mm / 2) ** 2 / W**2)


@pytest.mark.parametrize(("diameter", "way"), [(0.13, True), (0.15, True), (0.175, False)])
def test_a_dwell_clears_its_dot_by_the_law_of_energy_and_diameter(diameter, way):
    """D^2 = 2 w^2 ln(E / E_th), E_th = pi w^2 F / 2.

    J. M. Liu, Opt. Lett. 7 (1982) 196 (from memory).
    """
    made = planned(diameter, power_follows_speed=way)
    burnt = burns(made.coats[0].program)
    assert len(burnt) == len(AT) == made.coats[0].cleared.dots.count
    at_threshold = math.pi * W**2 / 2 * threshold_fluence(0.12)
    cleared = np.sqrt(2 * W**2 * np.log(burnt[:, 2] / at_threshold))
    assert cleared == pytest.approx(diameter, abs=0.002)
    assert burnt[:, 3] == pytest.approx(MACHINE.step_mm, abs=2e-4)


def test_what_a_gaussian_beam_clears_by_the_text_is_what_is_predicted():
    """Steps integrated as they move, neighbours' tails added, on a grid of 1 um."""
    made = planned(0.15)
    burnt = burns(made.coats[0].program)
    x0, y0 = AT[5]
    grid = np.arange(-0.16, 0.16, 0.001) + 0.0005
    x, y = np.meshgrid(x0 + grid, y0 + grid)
    fluence = np.zeros_like(x)
    for bx, by, energy, length in burnt:
        for at in (np.arange(8) + 0.5) / 8 * length - length / 2:
            r2 = (x - bx - at) ** 2 + (y - by) ** 2
            fluence += 2 * energy / 8 / (math.pi * W**2) * np.exp(-2 * r2 / W**2)
    clear = fluence >= threshold_fluence(0.12)
    (dot,) = [p for p in made.coats[0].opening.geoms if p.contains(Point(x0, y0))]
    assert clear.sum() * 1e-6 == pytest.approx(dot.area, rel=0.02)
    assert np.ptp(x[clear]) == pytest.approx(0.15, abs=0.004)
    assert np.ptp(y[clear]) == pytest.approx(0.15, abs=0.004)
    assert len(made.coats[0].opening.geoms) == len(AT)


def test_the_prediction_never_goes_beyond_the_dots():
    made = planned(0.15)
    wanted = unary_union([Point(at).buffer(0.075 + 1e-4, quad_segs=64) for at in AT])
    assert made.coats[0].opening.difference(wanted).area < 1e-9
    assert made.coats[0].opening.area == pytest.approx(len(AT) * math.pi * 0.075**2, rel=0.01)


def test_each_pass_dwells_once():
    made = planned(0.15, passes=2)
    burnt = burns(made.coats[0].program)
    assert len(burnt) == 2 * len(AT)
    at_threshold = math.pi * W**2 / 2 * threshold_fluence(0.12, passes=2)
    total = 2 * burnt[:, 2]
    assert np.sqrt(2 * W**2 * np.log(total / at_threshold)) == pytest.approx(0.15, abs=0.002)


@pytest.mark.parametrize(
    "machine",
    [
        {"beam_at_rest": False},
        {"power_follows_speed": "control"},
        {"power_follows_speed": None},
        {"step_mm": 0.05},
        {"decimals": 2},
    ],
)
def test_no_dwell_where_the_machine_may_cut_or_scale_it_or_is_too_coarse(machine):
    allowed = replace(MACHINE, beam_at_rest=True)
    beam = DwellBeam(radius_mm=(W, W), threshold_s=0.002)
    assert may_dwell(allowed, beam)
    assert not may_dwell(replace(allowed, **machine), beam)


@pytest.mark.parametrize(
    ("word", "decimals", "is_fine"),
    [("G21", 3, True), ("G21", 2, False), ("G20", 4, True), ("G20", 3, False), ("G70", 3, False)],
)
def test_a_step_is_written_to_a_quarter_of_itself_in_either_unit(word, decimals, is_fine):
    """A quarter of 0.0125 mm: 0.001 mm and 0.0001 inch are fine enough, a digit less is not."""
    machine = replace(MACHINE, beam_at_rest=True, units_word=word, decimals=decimals)
    assert may_dwell(machine, DwellBeam(radius_mm=(W, W), threshold_s=0.002)) == is_fine


def test_a_machine_that_does_not_say_gets_strokes():
    made = planned(0.15, beam_at_rest=False)
    assert made.coats[0].cleared.dots is None
    assert "dots-by-dwell" not in codes(made)
    assert len(burns(made.coats[0].program)) > 2 * len(AT)


def test_no_dwell_for_what_a_mark_at_rest_does_not_fit():
    for art in (
        discs(0.20),  # more than 1.5 marks
        unary_union([box(x - 0.15, y - 0.13, x + 0.15, y + 0.13) for x, y in AT]),
    ):
        made = plan(
            art,
            machine={"beam_at_rest": True},
            clearing={"mark_mm": mark(0.12)},
            limits={"edge_tolerance_mm": 0.02},
        )
        assert made.coats[0].cleared.dots is None
    asked = make_job(
        machine={"beam_at_rest": True},
        clearing={"mark_mm": mark(0.12), "dots": "strokes"},
        limits={"edge_tolerance_mm": 0.05},
    )
    assert plan(discs(0.15), asked).coats[0].cleared.dots is None


@pytest.mark.parametrize(("arm_mm", "dwells"), [(0.025, False), (0.008, True), (0.006, True)])
def test_a_dwell_fills_no_hollow_that_a_stroke_would_leave(arm_mm, dwells):
    """A beam at rest clears by the hull of its area: in a hollow it goes beyond the drawing.

    Crosses of two bars 0.012 mm wide: their hollows are 13.4, 1.4 and 0 um deep.
    """
    bars = box(-arm_mm, -0.006, arm_mm, 0.006), box(-0.006, -arm_mm, 0.006, arm_mm)
    beam = DwellBeam(radius_mm=(W, W), threshold_s=0.002)
    assert (_dot(unary_union(bars), (0.12, 0.12), beam, 0.0125) is not None) == dwells
    assert _dot(unary_union(bars).convex_hull, (0.12, 0.12), beam, 0.0125) is not None


@pytest.mark.parametrize("axis", [0, 1])
def test_dots_are_visited_from_home_on_the_nearer_one_first(axis):
    """(0, 0) is nearer to one of them; a millimetre up either axis is not, or it is still more."""
    dots = [_Dot(at_mm=at[::-1] if axis else at, energy_s=0.1) for at in ((3.4, 0.0), (0.0, 3.0))]
    assert _ordered(dots, MACHINE) == dots[::-1]
    assert _ordered(dots[::-1], MACHINE) == dots[::-1]


@pytest.mark.parametrize("axis", [0, 1])
def test_a_dot_is_no_longer_than_one_and_a_half_marks_each_way_its_own(axis):
    """Half a mark of that axis between the outermost beam centres."""
    mark, beam = (0.2, 0.1)[:: 1 - 2 * axis], DwellBeam(radius_mm=(W, W), threshold_s=0.002)
    for length, is_dot in ((0.098, True), (0.102, False)):
        bar = box(0, 0, length, 0.001) if axis == 0 else box(0, 0, 0.001, length)
        assert (_dot(bar, mark, beam, 1.0) is not None) == is_dot
        assert (_dot(affinity.rotate(bar, 90), mark, beam, 1.0) is not None) == (length < 0.05)


@pytest.mark.parametrize("energy_s", [1e-4, 1e-3, 0.1])
def test_a_dwell_from_rest_lasts_no_more_than_a_twentieth_longer_than_in_passing(energy_s):
    """To come up to its speed v takes v / a, where it is already there the step takes d / v."""
    block = _block([_Dot(at_mm=(5.0, 3.0), energy_s=energy_s)], MACHINE, 0.3)
    (lit,) = np.flatnonzero(block.power > 0)
    v, d = block.speed_mm_s[lit], block.length_mm[lit]
    assert v / MACHINE.acceleration_mm_s2 <= 0.05 * d / v * 1.0001
    assert d / v == pytest.approx(max(energy_s / 0.3, math.sqrt(MACHINE.step_mm / 800 / 0.05)))


@pytest.mark.parametrize("degrees", [0, 50, 100, 150])
def test_a_dwell_is_as_wide_as_its_area_is_narrow_whichever_way_that_is_turned(degrees):
    """A bar of 0.024 by 0.002 mm, each end 0.011 mm beyond the dwell; e^(d^2 / w^2 / 2) over it."""
    bar = affinity.rotate(box(-0.012, -0.001, 0.012, 0.001), degrees, origin=(0, 0))
    beam = DwellBeam(radius_mm=(W, W), threshold_s=0.002)
    dot = _dot(bar, (0.12, 0.12), beam, 0.0115)
    assert dot.energy_s == pytest.approx(0.002 * np.exp((0.1218 / W) ** 2 / 2), rel=0.005)
    assert _dot(bar, (0.12, 0.12), beam, 0.0105) is None


def test_dwells_beside_strokes_leave_the_strokes_as_they_are():
    made = plan(
        unary_union([discs(0.15), box(6, 3, 8, 6)]),
        machine={"beam_at_rest": True, "play_mm": (0.02, 0.02)},
        clearing={"mark_mm": mark(0.12)},
        limits={"edge_tolerance_mm": 0.05},
    )
    coat = made.coats[0]
    assert coat.cleared.dots.count == len(AT)
    assert coat.cleared.times.time_s < coat.cleared.dots.time_strokes_s
    assert coat.cleared.times.dose_ratio_max < 1.2
    field = max(coat.opening.geoms, key=lambda part: part.area)
    assert field.area == pytest.approx((2 - 2 * UNDERCUT) * (3 - 2 * UNDERCUT), rel=0.01)
    centres = [p.centroid for p in coat.opening.geoms if p.area < 0.1]
    off = [min(Point(at).distance(c) for at in AT) for c in centres]
    assert max(off) < 0.0005, "play is taken up on the way to each dot"
    assert "dots-by-dwell" in codes(made)


def test_lines_the_other_way_with_the_same_dots_take_what_is_told_of_them():
    artwork = unary_union([discs(0.15), box(6, 3, 8, 6), box(6, 6.5, 8, 6.7)])

    def cleared(direction):
        made = plan(
            artwork,
            machine={"beam_at_rest": True},
            clearing={"mark_mm": mark(0.12), "line_direction": direction},
            limits={"edge_tolerance_mm": 0.05},
        )
        assert made.coats[0].cleared.dots.count == len(AT)
        return made.coats[0].clearing

    chosen = cleared("auto")
    other = cleared("y" if chosen.line_direction == "x" else "x")
    assert chosen.time_other_direction_s == pytest.approx(other.times.time_s, rel=0.03)


def test_the_proof_refuses_a_beam_that_is_held_on_one_spot():
    def held(seconds, length=0.0125):
        speed = length / seconds
        return (
            f"G21 G90\nM3 S0\nG0 X5.0000 Y5.0000 S0\n"
            f"G1 X{5 + length:.4f} Y5.0000 F{60 * speed:.6f} S1000\n"
            "G0 X0.0000 Y0.0000 S0\nM5\n"
        )

    def found(text):
        told = prove_text(text, machine=MACHINE, blank_at_mm=(30.0, 30.0))
        return [violation.code for violation in told]

    assert found(held(0.9 * MOST_DWELL_S)) == []
    assert found(held(1.1 * MOST_DWELL_S)) == ["dwell"]
    assert found(held(30.0)) == ["dwell"]
    # The same time along a line is none.
    assert found(held(5.0, length=2.0)) == []


def test_only_lone_short_steps_far_over_the_line_dose_are_dwells():
    moves = Moves(
        x_mm=np.array([1.0, 1.01, 2.0, 2.01, 3.0, 3.01, 3.02]),
        y_mm=np.zeros(7),
        rapid=np.array([True, False, True, False, True, False, False]),
        speed_mm_s=np.array([100, 0.5, 100, 20.0, 100, 0.5, 0.5]),
        power=np.array([0, 0.3, 0, 0.3, 0, 0.3, 0.3]),
    )
    dwells = moves.is_dwell(step_mm=0.0125, line_dose=0.3 / 20)
    assert dwells.tolist() == [False, True, False, False, False, False, False]


def test_the_dose_of_a_dwell_is_not_told_as_that_of_a_line():
    moves = Moves(
        x_mm=np.array([1.0, 1.01, 2.0, 8.0, 0.0]),
        y_mm=np.zeros(5),
        rapid=np.array([True, False, True, False, True]),
        speed_mm_s=np.array([100, 0.5, 100, 20.0, 100]),
        power=np.array([0, 0.3, 0, 0.3, 0]),
    )
    machine = replace(MACHINE, power_follows_speed="control")
    told = measure_program(moves, machine=machine, power=0.3, speed_mm_s=20.0)
    assert told.dose_ratio_max < 1.5
    # The way home is no clearing: the time ends with the beam.
    limits = {"acceleration_mm_s2": machine.acceleration_mm_s2}
    whole = plan_speeds(moves, **limits, cornering_mm=machine.cornering_mm).time_s
    assert told.time_s == pytest.approx(whole[:4].sum())
    assert whole[4] > 0.05
