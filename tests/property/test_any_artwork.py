"""Laws that hold for any artwork: random polygons with holes, planned to the written program.

The judge is plain geometry: what a beam position finishes is a disc of the reach r about it, so the
finished region lies inside the artwork where the path stays inside and r away from its edge.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from effort import tries
from jobmaker import LYE, MARK, REACH, UNDERCUT, make_job, mark, plan, plan_afresh
from planning.plain_reading import lit, read_steps
from stopout.pictures import mask_png, mask_svg
from stopout.plan_file import summarise

WITHIN = 0.002
BLANK = (12.0, 10.0)
few = settings(
    max_examples=tries(15),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
very_few = settings(few, max_examples=tries(6))


@st.composite
def stars(draw, centre, size):
    """A star-shaped polygon: spikes and notches of any sharpness, but never crossing itself."""
    n = draw(st.integers(3, 9))
    radii = draw(st.lists(st.integers(15, 100), min_size=n, max_size=n))
    turn = draw(st.integers(0, 359))
    angle = np.radians(turn) + 2 * np.pi * np.arange(n) / n
    radius = size * np.asarray(radii) / 100
    return Polygon(np.column_stack([np.cos(angle), np.sin(angle)]) * radius[:, None] + centre)


@st.composite
def artworks(draw):
    """One to three overlapping stars, less one or two."""
    # Near each other, so that they overlap; small, so that much of them is near what is too thin.
    places = st.tuples(st.floats(5, 7), st.floats(4.4, 5.6))
    solid = [draw(stars(draw(places), 1.8)) for _ in range(draw(st.integers(1, 3)))]
    holes = [draw(stars(draw(places), 0.8)) for _ in range(draw(st.integers(0, 2)))]
    region = shapely.union_all(solid).difference(shapely.union_all(holes))
    assume(region.area > 0.5)
    return shapely.union_all([part for part in shapely.get_parts(region) if part.area > 1e-6])


def path_of(made):
    (coat,) = made.coats
    assert coat.program is not None or made.is_stopped
    return lit(read_steps(coat.program, made.job.machine)) if coat.program else np.empty((0, 4))


class TestNothingLiesOutsideTheArtwork:
    @given(artworks())
    @few
    def test_left_out_means_that_the_outcome_stays_inside(self, region):
        made = plan(region)
        outcome = made.coats[0].outcome
        assert outcome.worst_outside_mm <= WITHIN
        assert outcome.merged == 0
        path = path_of(made)
        if len(path):
            chords = shapely.linestrings(path.reshape(-1, 2, 2))
            assert shapely.contains_xy(region, path[:, 0], path[:, 1]).all()
            assert shapely.distance(chords, region.boundary).min() >= REACH - WITHIN

    @given(artworks(), st.sampled_from([(0.10, 0.06), (0.05, 0.12)]))
    @very_few
    def test_an_elliptical_mark_stays_inside_too(self, region, axes):
        made = plan(region, clearing={"mark_mm": mark(*axes)})
        assert made.coats[0].outcome.worst_outside_mm <= WITHIN
        path = path_of(made)
        if not len(path):
            return
        # Seen in the plane where the mark is round: half a mark from the artwork less the undercut.
        inner = region.buffer(-UNDERCUT + WITHIN, quad_segs=64)
        stretch = np.array([1.0, axes[0] / axes[1]])
        edge = shapely.transform(inner.boundary, lambda xy: xy * stretch)
        chords = shapely.linestrings(path.reshape(-1, 2, 2) * stretch)
        assert shapely.distance(chords, edge).min() >= axes[0] / 2 - WITHIN * stretch.max()


class TestWhatCanBeMadeIsMade:
    @given(artworks())
    @few
    def test_all_of_the_plain_opening_is_finished(self, region):
        """T o B(r), reckoned here by a geometry library, is within r of the path."""
        made = plan(region)
        core = region.buffer(-REACH - WITHIN, quad_segs=64)
        assume(not core.is_empty)
        path = shapely.STRtree(shapely.linestrings(path_of(made).reshape(-1, 2, 2)))
        rng = np.random.default_rng(3)
        sample = rng.uniform(*np.reshape(core.bounds, (2, 2)), (1500, 2))
        inside = shapely.points(sample[shapely.contains_xy(core, sample[:, 0], sample[:, 1])])
        rim = shapely.points(shapely.get_coordinates(shapely.segmentize(core.boundary, 0.2)))
        for points, limit in ((inside, MARK / 2), (rim, 2 * WITHIN)):
            if len(points):
                gap = path.query_nearest(points, return_distance=True, all_matches=False)[1]
                # Inside the resist itself is cleared; on the rim runs the outline pass.
                assert gap.max() <= limit + WITHIN


class TestTheProgramIsSafe:
    @given(
        artworks(),
        st.sampled_from(["x", "y", "auto", "crossed"]),
        st.sampled_from([10.0, 20.0, 50.0]),
        st.booleans(),
        st.sampled_from(["widen", "leave-out"]),
    )
    @few
    def test_it_stays_in_the_bed_and_travels_dark_and_ends_off(
        self, region, direction, speed, follows, policy
    ):
        job = make_job(
            machine={"power_follows_speed": follows},
            clearing={"line_direction": direction, "speed_mm_s": speed},
            limits={"too_thin": policy, "edge_tolerance_mm": 0.03},
        )
        made = plan(region, job)
        assume(not made.is_stopped)
        machine = job.machine
        for text in (made.coats[0].program, made.bounds_program):
            steps = read_steps(text, machine)
            ends = np.array([step.b for step in steps]) + machine.blank_at_mm
            assert (ends >= 0).all()
            assert (ends <= machine.bed_mm).all()
            assert all(step.power == 0 for step in steps if step.is_travel)
            assert all(0 < step.speed <= machine.top_speed_mm_s + 1e-9 for step in steps)
            assert all(0 <= step.power <= 1 for step in steps)
            assert steps[-1].power == 0
            assert text.rstrip().endswith("M5")

    @given(artworks(), st.integers(0, 40), st.integers(0, 40))
    @very_few
    def test_a_bed_too_small_or_a_clamp_in_the_way_always_stops(self, region, x, y):
        clamp = (30 + x / 4, 30 + y / 4, 31 + x / 4, 31 + y / 4)
        job = make_job(machine={"keep_outs_mm": (clamp,)})
        made = plan(region, job)
        free = plan(region)
        if free.is_stopped:
            return
        inside = box(*clamp).buffer(-1e-6)
        steps = read_steps(free.coats[0].program, job.machine)

        def enters(step):
            return shapely.LineString(np.add([step.a, step.b], 30)).intersects(inside)

        # Travel may go round; lines and their runs cannot.
        if any(enters(step) for step in steps if not step.is_travel):
            assert made.is_stopped
            assert made.coats[0].program is None
        elif not made.is_stopped:
            assert not any(map(enters, read_steps(made.coats[0].program, job.machine)))


class TestTheSameInputGivesTheSameBytes:
    @given(artworks(), st.sampled_from(["widen", "leave-out"]))
    @very_few
    def test_a_second_run_gives_the_same_plan(self, region, policy):
        one, other = (plan_afresh(region, limits={"too_thin": policy}) for _ in range(2))
        assert one.coats[0].program == other.coats[0].program
        assert one.bounds_program == other.bounds_program
        assert json.dumps(summarise(one)) == json.dumps(summarise(other))
        size = {"width_mm": BLANK[0], "height_mm": BLANK[1]}
        first, second = one.coats[0].opening, other.coats[0].opening
        assert mask_svg(first, title="t", **size) == mask_svg(second, title="t", **size)
        assert mask_png(first, **size) == mask_png(second, **size)

    @given(artworks())
    @very_few
    def test_the_order_in_which_the_parts_are_drawn_does_not_matter_to_the_outcome(self, region):
        parts = list(shapely.get_parts(region))
        one = plan(shapely.MultiPolygon(parts)).coats[0].opening
        other = plan(shapely.MultiPolygon(parts[::-1])).coats[0].opening
        assert one.symmetric_difference(other).area <= 1e-4 * max(one.length, 1)


class TestDeeperNeverGains:
    @given(artworks(), st.integers(0, 12), st.integers(1, 8))
    @few
    def test_a_deeper_etch_never_finishes_more_area(self, region, depth, more):
        """Openings by larger discs lie in those by smaller ones (mathematical morphology)."""
        shallow, deep = (
            plan(region, etch=replace(LYE, depth_mm=0.02 + 0.01 * d)).coats[0]
            for d in (depth, depth + more)
        )
        slack = 0.0005 * shallow.finished.length + 1e-6
        assert deep.outcome.area_mm2 <= shallow.outcome.area_mm2 + slack
        grown = shallow.finished.buffer(WITHIN)
        assert deep.finished.difference(grown).area <= slack


class TestAMirroredArtworkGivesAMirroredPlan:
    @given(artworks())
    @very_few
    def test_left_and_right_are_treated_alike(self, region):
        def flip(shape):
            return shapely.transform(shape, lambda xy: xy * (-1, 1) + (BLANK[0], 0))

        one, other = plan(region).coats[0], plan(flip(region)).coats[0]
        there = flip(other.opening)
        assert one.opening.symmetric_difference(there).area <= 0.0005 * one.opening.length + 1e-6
        assert math.isclose(
            one.outcome.area_mm2, other.outcome.area_mm2, rel_tol=1e-3, abs_tol=1e-3
        )
        assert one.outcome.lost == other.outcome.lost
