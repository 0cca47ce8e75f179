"""How the written program clears: spacing, dose, gaps, passes, limits of the machine, pointer."""

from __future__ import annotations

import math
import re
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, box

from jobmaker import REACH, UNDERCUT, codes, drawing, make_job, mark, plan
from planning.plain_reading import (
    cleared_raster,
    dose_ratios,
    fill_lines,
    lit,
    read_steps,
    runs,
    vertex_speeds,
)
from shapes import glyph_f
from stopout.errors import PlanError, StopoutError
from stopout.job.record import Coat
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job

# Small: whole plans of them are made by the dozen, and the laws ask for no size.
SQUARE = box(2, 2, 5.5, 5)
STAR = Polygon(
    [
        (6 + r * math.cos(k * math.pi / 6), 5 + r * math.sin(k * math.pi / 6))
        for k, r in enumerate([2.1, 0.96] * 6)
    ]
)
SHAPES = {
    "square": SQUARE,
    "disc": Point(6, 5).buffer(3, quad_segs=96),
    "ring": Point(6, 5).buffer(1.8, quad_segs=96).difference(Point(6, 5).buffer(0.8, quad_segs=96)),
    "glyph": glyph_f(2, 2, height=3.6, stroke=0.54),
    "star": STAR,
    "two thin slots": box(2, 2, 5, 2.3).union(box(2, 3, 2.25, 5)),
}


def steps_of(made):
    return read_steps(made.coats[0].program, made.job.machine)


def rows(made, along):
    """Distances between the fill lines of the program, from the lowest up."""
    axis = 1 if along == "x" else 0
    return np.diff(np.unique(np.round([s.a[axis] for s in fill_lines(steps_of(made), along)], 4)))


# The spacing rule: p = min(0.85 D, 1.1566 w) in whole motor steps. 0.85 is common practice, no
# source; 1.1566 = pi / sqrt(2 ln 40) keeps the ripple of summed Gaussian lines to 5 %.
def by_rule(across, w, step=0.0125):
    return (
        math.floor(min(0.85 * across, math.pi / math.sqrt(2 * math.log(40)) * w) / step + 1e-9)
        * step
    )


FWHM = math.sqrt(2 * math.log(2))


def one_threshold(ratio):
    """Liu's widths (from memory), the demo's wider axis at this ratio: q_th goes as w."""
    narrower = ratio * 0.085 / 0.06
    return 0.085 * math.sqrt(2 * math.log(ratio)), 0.06 * math.sqrt(2 * math.log(narrower))


CASES = {
    "measured mark": ({"mark_mm": mark(0.10, 0.087)}, (0.10, 0.087), (0.10 / FWHM, 0.087 / FWHM)),
    "default dose": ({"mark_mm": None}, one_threshold(2), (0.085, 0.06)),
    "dose ratio 4": (
        {"mark_mm": None, "dose_ratio": 4.0},
        one_threshold(4),
        (0.085, 0.06),
    ),
    "dose ratio 1.65": (
        {"mark_mm": None, "dose_ratio": math.sqrt(math.e)},
        one_threshold(math.sqrt(math.e)),
        (0.085, 0.06),
    ),
}


@pytest.mark.parametrize("along", ["x", "y"])
@pytest.mark.parametrize("case", sorted(CASES))
def test_fill_lines_of_the_program_lie_apart_by_the_rule(case, along):
    clearing, marks, radii = CASES[case]
    machine = {"spot_mm": (0.17, 0.12)}
    made = plan(SQUARE, clearing={**clearing, "line_direction": along}, machine=machine)
    numbers = made.coats[0].clearing
    axis = 1 if along == "x" else 0
    assert [m.value for m in numbers.mark_mm] == pytest.approx(marks)
    expected = by_rule(marks[axis], radii[axis])
    assert numbers.spacing_mm == pytest.approx(expected)
    assert rows(made, along) == pytest.approx(expected, abs=1.1e-4)


@pytest.mark.parametrize(
    ("means", "width"), [("1/e2", 0.17), ("d4sigma", 0.17), ("fwhm", 0.17 / 2 * FWHM)]
)
def test_the_spot_s_width_is_read_in_its_own_sense(means, width):
    """ISO 11146: D4sigma equals the 1/e^2 width of a Gaussian; its FWHM is w sqrt(2 ln 2)."""
    made = plan(
        SQUARE,
        clearing={"mark_mm": None},
        machine={"spot_mm": (width, width), "spot_means": means},
    )
    assert made.coats[0].clearing.mark_mm[0].value == pytest.approx(0.085 * FWHM)


def test_a_given_spacing_is_kept_and_one_wider_than_the_mark_stops_the_plan():
    kept = plan(SQUARE, clearing={"spacing_mm": 0.05, "line_direction": "x"})
    assert rows(kept, "x") == pytest.approx(0.05, abs=1.1e-4)
    wide = plan(SQUARE, clearing={"spacing_mm": 0.12})
    assert "spacing-wide" in codes(wide, "stop")
    assert wide.coats[0].program is None
    # Where the plan itself chose it, one motor step is wider than the mark.
    coarse = plan(SQUARE, machine={"step_mm": 0.15})
    (said,) = [one.remedy for one in coarse.findings if one.code == "spacing-wide"]
    assert "machine.step" in said
    assert "spacing" not in said


@pytest.mark.parametrize("direction", ["x", "y", "crossed"])
@pytest.mark.parametrize("axes", [(0.1, 0.07), (0.06, 0.1)])
@pytest.mark.parametrize("name", ["glyph", "star"])
def test_the_program_leaves_no_threads_in_the_opening(name, axes, direction):
    """All of the artwork that lies a reach and more inside its edge is cleared: 5 um raster."""
    shape = SHAPES[name]
    made = plan(shape, clearing={"mark_mm": mark(*axes), "line_direction": direction})
    low, high = np.reshape(shape.bounds, (2, 2))
    done, at = cleared_raster(lit(steps_of(made)), axes, low, high)
    inside = shapely.contains_xy(shape, at[..., 0], at[..., 1])
    rest = shapely.points(at[inside & ~done])
    # What is not cleared lies within the undercut of the edge, or in a corner's rounding.
    corners = shapely.MultiPoint(shapely.get_coordinates(shape))
    in_corner = shapely.distance(rest, corners) < 3 * REACH
    deep = shapely.distance(rest, shape.boundary)
    assert deep[~in_corner].max() <= UNDERCUT + 0.005
    assert deep.max() <= 3 * REACH
    (opening,) = made.coats[0].opening.geoms
    assert len(opening.interiors) == 0


@pytest.mark.parametrize("name", sorted(SHAPES))
@pytest.mark.parametrize("follows", [True, False])
def test_the_dose_along_the_written_program_stays_within_15_percent(name, follows):
    made = plan(SHAPES[name], machine={"power_follows_speed": follows})
    steps = steps_of(made)
    least, most = dose_ratios(steps, made.job.machine, power=0.3, speed=20.0)
    assert most <= 1.15
    assert least >= 1 / 1.15
    assert made.coats[0].clearing.times.dose_ratio_max <= 1.15
    assert "dose-uneven" not in codes(made)


@pytest.mark.parametrize("speed", [10.0, 20.0, 80.0])
@pytest.mark.parametrize("name", ["glyph", "ring"])
def test_fill_lines_run_at_constant_speed_and_power_with_the_beam_on(name, speed):
    made = plan(SHAPES[name], clearing={"speed_mm_s": speed, "line_direction": "x"})
    steps = steps_of(made)
    v = vertex_speeds(steps, made.job.machine)
    along = made.coats[0].clearing.line_direction
    lines = {id(step) for step in fill_lines(steps, along)}
    assert lines
    for k, step in enumerate(steps):
        if id(step) in lines:
            # F is written to 0.001 mm/min.
            assert v[k] == pytest.approx(speed, rel=1e-6)
            assert v[k + 1] == pytest.approx(speed, rel=1e-6)
            assert step.power == pytest.approx(0.3, rel=2e-3)


def test_the_beam_is_off_in_gaps_between_parts_of_a_row():
    pair = box(2, 2, 4, 4).union(box(4.5, 2, 6.5, 4))
    made = plan(pair, clearing={"line_direction": "x"})
    steps = steps_of(made)
    crossing = [s for s in steps if min(s.a[0], s.b[0]) < 4.25 < max(s.a[0], s.b[0])]
    assert crossing
    assert all(step.power == 0 for step in crossing)
    # Some of them go on at clearing speed: it is quicker than turning round twice.
    assert any(not step.is_travel for step in crossing)


def test_passes_repeat_the_same_clearing():
    one, three = (plan(SHAPES["two thin slots"], clearing={"passes": n}) for n in (1, 3))
    once, again = ([(run[0].a, run[-1].b) for run in runs(steps_of(made))] for made in (one, three))
    assert again == once * 3
    first, thrice = one.coats[0].clearing, three.coats[0].clearing
    assert thrice.passes == 3
    assert thrice.times.cleared_length_mm == pytest.approx(
        3 * first.times.cleared_length_mm, rel=1e-3
    )
    assert thrice.area_floor_s == pytest.approx(3 * first.area_floor_s)


def test_crossed_lines_fill_both_ways():
    made = plan(SQUARE, clearing={"line_direction": "crossed"})
    flat, upright = fill_lines(steps_of(made), "x"), fill_lines(steps_of(made), "y")
    side, p = (3.5 - 2 * REACH, 3 - 2 * REACH), made.coats[0].clearing.spacing_mm
    assert len(flat) == pytest.approx(side[1] / p, abs=3)
    assert len(upright) == pytest.approx(side[0] / p, abs=3)
    assert made.coats[0].clearing.line_direction == "crossed"


def test_a_coat_s_own_settings_override_the_job_s():
    coat = Coat(paint="epoxy-two-part", power=0.5, speed_mm_s=10.0, passes=2, mark_mm=mark(0.14))
    made = plan(SQUARE, coats=(coat,), clearing={"line_direction": "x"})
    numbers = made.coats[0].clearing
    assert (numbers.power_fraction, numbers.speed_mm_s, numbers.passes) == (0.5, 10.0, 2)
    assert numbers.reach_mm == pytest.approx(UNDERCUT + 0.07)
    assert max(step.power for step in steps_of(made)) == pytest.approx(0.5, rel=0.1)
    assert {step.speed for step in fill_lines(steps_of(made), numbers.line_direction)} == {10.0}


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_the_program_is_dark_on_every_travel_and_at_its_end(name):
    made = plan(SHAPES[name])
    steps = steps_of(made)
    assert all(step.power == 0 for step in steps if step.is_travel)
    assert steps[-1].power == 0
    assert made.coats[0].program.rstrip().splitlines()[-1] == "M5"
    for before, step in pairwise(steps):
        assert before.b == step.a


def test_a_program_that_would_leave_the_bed_stops_the_plan():
    """The square's rows need a run-up of v^2 / 2a = 0.25 mm before x = 2.11."""
    rows_along = {"line_direction": "x"}
    at_edge = plan(SQUARE, machine={"blank_at_mm": (-1.0, 30.0)})
    assert "outside-bed" in codes(at_edge, "stop")
    over = plan(
        SQUARE,
        clearing=rows_along,
        machine={"bed_mm": (35.4, 60.0), "blank_at_mm": (30.0, 30.0)},
    )
    assert "outside-bed" in codes(over, "stop")
    assert over.coats[0].program is None
    assert over.bounds_program is None
    fits = plan(
        SQUARE,
        clearing=rows_along,
        machine={"bed_mm": (35.8, 60.0), "blank_at_mm": (30.0, 30.0)},
    )
    assert not fits.is_stopped
    for finding in over.findings:
        if finding.code == "outside-bed":
            assert finding.remedy


def test_a_blank_larger_than_the_bed_stops_the_plan_when_the_work_leaves_it():
    made = plan(SQUARE, machine={"bed_mm": (5.0, 5.0), "blank_at_mm": None})
    assert codes(made, "stop") == ["blank-beyond-bed"]
    # No second direction is tried for what cannot be run.
    assert made.coats[0].clearing.time_other_direction_s is None


def test_a_clamp_in_the_way_stops_the_plan_and_one_beside_it_does_not():
    # The square lies at 32..35.5 x 32..35 on the bed.
    hit = plan(SQUARE, machine={"keep_outs_mm": ((33.0, 33.0, 34.0, 34.0),)})
    assert "keep-out" in codes(hit, "stop")
    assert hit.coats[0].program is None
    (stop,) = [f for f in hit.findings if f.code == "keep-out" and f.level == "stop"]
    assert "keep-out" in stop.message or "clamp" in stop.message
    assert stop.at_mm is not None
    missed = plan(SQUARE, machine={"keep_outs_mm": ((0.0, 0.0, 20.0, 15.0),)})
    assert not missed.is_stopped


def test_travel_goes_round_a_clamp_that_it_would_cross():
    """From (0, 0) to the first line and back the head would go over the clamp."""
    clamp = (0.3, 0.2, 1.7, 1.5)
    straight = steps_of(plan(SQUARE))
    crossed = [s for s in straight if shapely.LineString([s.a, s.b]).intersects(box(*clamp))]
    assert crossed
    on_bed = tuple(30 + at for at in clamp)
    made = plan(SQUARE, machine={"keep_outs_mm": (on_bed,)})
    assert not made.is_stopped
    for step in steps_of(made):
        assert not shapely.LineString([step.a, step.b]).intersects(box(*clamp))
    assert lit(steps_of(made)) == pytest.approx(lit(straight))


def test_left_out_blank_at_centres_the_blank_and_says_so():
    made = plan(SQUARE, machine={"blank_at_mm": None})
    assert made.blank_at_mm == (194.0, 195.0)
    assert "blank-centred" in codes(made, "note")


THRESHOLD = 0.3 / 20 / math.exp((0.1 / 0.06) ** 2 / 2)


def bounds_of(made):
    return read_steps(made.bounds_program, made.job.machine)


def test_without_a_pointer_the_bounds_are_traced_dark():
    made = plan(SQUARE)
    steps = bounds_of(made)
    assert all(step.power == 0 for step in steps)
    ends = np.array([step.b for step in steps])
    every = np.array([p for step in steps_of(made) for p in (step.a, step.b)])
    # Where no run goes beyond the edge the opening's own box is the larger.
    every = np.vstack([every, np.reshape(made.coats[0].opening.bounds, (2, 2))])
    assert ends.min(axis=0) == pytest.approx(every.min(axis=0), abs=1e-4)
    assert ends.max(axis=0) == pytest.approx(every.max(axis=0), abs=1e-4)


def test_a_weak_pointer_traces_the_artwork_s_box_alone():
    """A tenth of the threshold at the speed of a square corner, 4.39 mm/s, is 0.16 % here."""
    made = plan(SQUARE, machine={"pointer_fraction": 0.0010})
    assert not made.is_stopped
    on = [step for step in bounds_of(made) if step.is_on]
    corners = np.array([point for step in on for point in (step.a, step.b)])
    low, high = (2 + UNDERCUT, 2 + UNDERCUT), (5.5 - UNDERCUT, 5 - UNDERCUT)
    assert corners.min(axis=0) == pytest.approx(low, abs=0.002)
    assert corners.max(axis=0) == pytest.approx(high, abs=0.002)
    assert all(step.power == pytest.approx(0.001, rel=0.01) for step in on)
    slowest = min(
        min(v)
        for step, v in zip(
            bounds_of(made), pairwise(vertex_speeds(bounds_of(made), made.job.machine)), strict=True
        )
        if step.is_on
    )
    assert 0.001 / slowest <= 0.1 * THRESHOLD * 1.01


@pytest.mark.parametrize("fraction", [0.01, 0.1])
def test_a_pointer_that_could_mark_stops_the_plan(fraction):
    made = plan(SQUARE, machine={"pointer_fraction": fraction})
    assert "pointer-strong" in codes(made, "stop")
    (said,) = [one.remedy for one in made.findings if one.code == "pointer-strong"]
    most = float(re.search(r'at most "([0-9.]+) %"', said)[1])
    # The remedy passes when it is given, and a fiftieth more does not.
    for share, passes in ((most, True), (1.02 * most + 0.01, False)):
        made = plan(SQUARE, machine={"pointer_fraction": share / 100})
        assert ("pointer-strong" not in codes(made, "stop")) is passes
    assert made.coats[0].program is None
    assert made.bounds_program is None


def test_faster_machines_take_less_time_and_clear_the_same():
    slow, quick = plan(STAR), plan(STAR, machine={"acceleration_mm_s2": 3000.0})
    assert quick.coats[0].clearing.times.time_s < slow.coats[0].clearing.times.time_s
    assert quick.coats[0].opening.symmetric_difference(slow.coats[0].opening).area < 0.01


@pytest.mark.parametrize("beam_on", ["M3", "M4"])
def test_the_machine_s_words_are_used(beam_on):
    made = plan(SQUARE, machine={"beam_on": beam_on, "power_word": 255.0})
    text = made.coats[0].program
    assert f"\n{beam_on} S0" in text
    assert max(step.power for step in steps_of(made)) == pytest.approx(0.3, rel=0.1)
    assert "G21 G90" in text


def test_a_dose_at_or_under_the_threshold_is_refused_in_a_sentence():
    with pytest.raises(PlanError, match="dose_ratio is 1"):
        plan(SQUARE, clearing={"mark_mm": None, "dose_ratio": 1.0})


def test_the_whole_job_is_quicker_than_line_by_line_one_way():
    for name, shape in SHAPES.items():
        clearing = plan(shape).coats[0].clearing
        assert clearing.times.time_s <= clearing.time_one_direction_s * 1.02, name


def test_parts_are_worked_with_no_more_travel_than_in_the_order_of_the_file():
    rng = np.random.default_rng(11)
    places = [(x, y) for x in range(1, 5) for y in range(1, 4)]
    rng.shuffle(places)
    dots = shapely.union_all([Point(x, y).buffer(0.2, quad_segs=32) for x, y in places])
    made = plan(dots)
    found = runs(steps_of(made))
    travel = sum(math.dist(a[-1].b, b[0].a) for a, b in pairwise(found))
    # Each is come to twice: for its fill and for its outline.
    in_file_order = 2 * sum(math.dist(a, b) for a, b in pairwise(places))
    assert travel < 0.5 * in_file_order


def test_a_job_of_nothing_stops_with_a_reason():
    job = make_job()
    # One clear sentence, never a traceback of another kind.
    with pytest.raises(StopoutError, match=r"empty|nothing"):
        plan_job(job, drawing(Polygon()), knowledge_for(job))


def test_artwork_that_is_all_left_out_does_not_pass_for_a_ready_plan():
    """An empty program is not a plan: the person would etch a blank that shows nothing."""
    made = plan(box(2, 2, 8, 2.1), limits={"too_thin": "leave-out"})
    assert made.coats[0].opening.is_empty
    assert made.is_stopped


def test_keep_outs_are_measured_from_the_bed_s_corner_not_the_blank_s():
    assert not plan(SQUARE, machine={"keep_outs_mm": ((3.0, 3.0, 5.0, 5.0),)}).is_stopped
