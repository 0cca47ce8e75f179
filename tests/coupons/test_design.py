"""Coupons: what lies where, and that the program gives the doses that coupon.json states."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from coupons.coupon_jobs import SETTINGS, coupon, small
from effort import tries
from jobmaker import LYE, MACHINE, make_job, plate
from planning.plain_reading import read_steps
from remembered import afresh
from stopout.coupons.design import lay_out
from stopout.coupons.design_clearing import clearing_parts
from stopout.coupons.design_etch import etch_parts
from stopout.coupons.glyphs import LETTERS, text_lines
from stopout.coupons.layout import CouponLayout
from stopout.errors import CouponError
from stopout.planning.coupon.road import coupon_job
from stopout.values import Level, Measured

# How many closed loops each letter has, drawn as everybody draws it; the zero's stroke stays off
# its rim.
LOOPS = dict.fromkeys("ADOPQR0469", 1) | {"B": 2, "8": 2}
PARTS = {"clearing": clearing_parts, "etch": etch_parts}
KINDS = pytest.mark.parametrize("kind", ["clearing", "etch"])


def designed(kind, face, size, beam=SETTINGS):
    """The fuller layout that fits a face; None where none does."""
    blank = CouponLayout(kind=kind, width_mm=size[0], height_mm=size[1], marks=())
    for level in range(3):
        try:
            return lay_out(
                PARTS[kind](beam, level),
                beam,
                face=face,
                size_mm=size,
                blank=blank,
            )
        except CouponError:
            continue
    return None


def elements(layout, widest):
    """Every element that is measured, as the box it needs; `widest` is a line's at most."""
    boxes = [
        shapely.Point(mark.centre_mm).buffer(mark.diameter_mm / 2).envelope for mark in layout.marks
    ]
    boxes += [shapely.LineString([x.from_mm, x.to_mm]).buffer(widest / 2) for x in layout.lines]
    boxes += [
        shapely.LineString([x.from_mm, x.to_mm]).buffer(x.opening_mm / 2, cap_style="flat")
        for x in layout.slots
    ]
    boxes += [shapely.box(*x.box_mm) for x in (*layout.patches, *layout.other)]
    return boxes


def lit_steps(made):
    """Moves with the beam on, by the tests' own reader."""
    steps = read_steps(made.plan.coats[0].program, made.plan.job.machine)
    return [step for step in steps if step.is_on]


sizes = st.floats(28.0, 80.0, allow_nan=False).map(lambda value: round(value, 1))


@settings(max_examples=tries(12), deadline=None)
@given(
    kind=st.sampled_from(["clearing", "etch"]),
    width=sizes,
    height=sizes,
    hole=st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0.5, 4)),
    mark=st.floats(0.05, 0.25),
)
def test_a_coupon_lies_within_its_blank_and_nothing_overlaps(kind, width, height, hole, mark):
    face = shapely.box(0, 0, width, height).difference(
        shapely.Point(hole[0] * width, hole[1] * height).buffer(hole[2])
    )
    if face.geom_type != "Polygon":
        return
    radius = mark / math.sqrt(2 * math.log(2))
    beam = replace(SETTINGS, mark_mm=(mark, 0.7 * mark), radius_mm=(radius, 0.7 * radius))
    made = designed(kind, face, (width, height), beam)
    if made is None:
        return
    boxes = elements(made.layout, 2 * radius)
    # At least 1 mm from the edge and from holes: paint is thin there.
    assert face.buffer(-1.0).covers(shapely.union_all(boxes))
    tree = shapely.STRtree(boxes)
    first, second = tree.query(boxes, predicate="intersects")
    assert (first == second).all()


@KINDS
def test_everything_that_is_cleared_is_listed(kind):
    # Readers that know the contract's keys alone must not be surprised by what they see.
    made = small(kind)
    listed = shapely.union_all(elements(made.layout, 0.18)).buffer(0.01)
    assert made.plan.coats[0].opening.difference(listed).area < 0.01


@KINDS
def test_the_discs_look_like_no_turned_or_mirrored_discs(kind):
    marks = small(kind).layout.marks
    at = np.array([mark.centre_mm for mark in marks])
    at = at - at.mean(axis=0)
    for turn in np.radians(np.arange(0, 360, 1.0)):
        c, s = np.cos(turn), np.sin(turn)
        for mirror in (1, -1):
            if turn == 0 and mirror == 1:
                continue
            moved = at @ np.array([[c, -s], [s, c]]) * [mirror, 1]
            miss = np.linalg.norm(moved[:, None] - at[None], axis=2).min(axis=1).max()
            # Further apart than any scan's error: a degree alone moves a corner by 0.3 mm.
            assert miss > 0.2


class TestDose:
    def lines_in_program(self, made):
        """(ends, power, speed, how often) of the lit moves, by the tests' own reader."""
        seen: dict[tuple, list] = {}
        for step in lit_steps(made):
            seen.setdefault((step.a, step.b), []).append((step.power, step.speed))
        return seen

    def test_each_line_is_run_at_its_dose_as_often_as_it_has_passes(self):
        made = small("clearing")
        seen = self.lines_in_program(made)
        assert len(made.layout.lines) >= 20
        for line in made.layout.lines:
            runs = seen[(line.from_mm, line.to_mm)]
            assert len(runs) == line.passes
            for power, speed in runs:
                dose = line.passes * power * made.plan.job.machine.power_w / speed
                assert dose == pytest.approx(line.line_dose_j_per_mm, rel=1e-6)
                assert power == pytest.approx(line.power_fraction, rel=1e-9)
                assert speed == pytest.approx(line.speed_mm_s, rel=1e-9)

    def test_two_levels_lie_under_the_threshold_and_eight_from_1_15_to_6_8_times_it(self):
        # Counts and range of the usual protocol (common practice, no source); the threshold is
        # that of the job: dose ratio 2 at 30 % of 5.5 W and 20 mm/s is 0.04125 J/mm.
        made = coupon("clearing", clearing={"mark_mm": None, "dose_ratio": 2.0})
        for axis in "XY":
            doses = [x.line_dose_j_per_mm for x in made.layout.lines if x.id[:2] == f"{axis}1"]
            ratios = np.array(doses) / 0.04125
            assert len(ratios) == 10
            assert (ratios[:2] < 0.95).all()
            assert ratios[2] == pytest.approx(1.15, rel=0.01)
            assert ratios[-1] == pytest.approx(6.8, rel=0.03)
            # S words have three digits, and full power caps the strongest.
            assert ratios[3:-1] / ratios[2:-2] == pytest.approx(1.29, rel=0.01)

    def test_on_a_large_metal_blank_three_sets_a_second_speed_and_four_passes_are_run(self):
        made = designed("clearing", shapely.box(0, 0, 100, 60), (100, 60))
        assert made.left_out == ()
        names = [line.id.split("-")[0] for line in made.layout.lines]
        assert set(names) == {"X1", "X2", "X3", "Y1", "Y2", "Y3", "V1", "P1"}
        speeds = {x.id[:2]: x.speed_mm_s for x in made.layout.lines}
        assert speeds["V1"] != speeds["X1"]
        assert {x.passes for x in made.layout.lines if x.id.startswith("P1")} == {4}

    def test_plastic_gets_no_second_speed(self):
        beam = replace(SETTINGS, is_metal=False)
        made = designed("clearing", shapely.box(0, 0, 100, 60), (100, 60), beam)
        assert not [line for line in made.layout.lines if line.id.startswith("V1")]

    def test_a_weak_laser_runs_the_lines_slower_and_says_so(self):
        made = coupon("clearing", clearing={"mark_mm": None, "dose_ratio": 2.0, "power": 1.0})
        line = made.layout.lines[0]
        # 6.8 times the threshold of half the job's dose needs 3.4 times the job's power.
        assert line.speed_mm_s == pytest.approx(20 / 3.41, rel=0.01)
        assert max(x.power_fraction for x in made.layout.lines) <= 1
        assert "coupon-slower" in [finding.code for finding in made.plan.findings]


def test_patches_are_filled_at_the_spacing_that_they_are_named_for():
    made = small("clearing")
    steps = lit_steps(made)
    assert len(made.layout.patches) >= 4
    for patch in made.layout.patches:
        x0, y0, x1, y1 = patch.box_mm
        inside = [s for s in steps if x0 < min(s.a[0], s.b[0]) and max(s.a[0], s.b[0]) < x1]
        across = 1 if patch.line_direction == "x" else 0
        rows = sorted({s.a[across] for s in inside if y0 < s.a[1] < y1})
        assert len(rows) > 10
        # Places are written to 0.1 um.
        assert np.diff(rows) == pytest.approx(patch.spacing_mm, abs=1.5e-4)
        assert patch.spacing_mm / made.plan.job.machine.step_mm == pytest.approx(
            round(patch.spacing_mm / made.plan.job.machine.step_mm)
        )


def test_teeth_of_a_comb_run_to_and_fro_between_the_same_ends():
    made = small("clearing")
    steps = {(s.a, s.b): s for s in read_steps(made.plan.coats[0].program, MACHINE)}
    assert made.layout.combs
    for comb in made.layout.combs:
        along = 0 if comb.axis == "x" else 1
        ways = [tooth.to_mm[along] > tooth.from_mm[along] for tooth in comb.teeth]
        assert ways == [k % 2 == 0 for k in range(len(ways))]
        ends = {tuple(sorted((t.from_mm[along], t.to_mm[along]))) for t in comb.teeth}
        assert len(ends) == 1
        assert {steps[(t.from_mm, t.to_mm)].speed for t in comb.teeth} == {comb.speed_mm_s}


@pytest.mark.parametrize("is_searched", [False, True])
def test_no_light_of_any_strength_is_asked_for_more_than_its_full_power(is_searched):
    for watt in np.arange(0.5, 12.0, 0.1).round(1):
        beam = replace(SETTINGS, power_w=float(watt))
        if is_searched:
            beam = replace(beam, search_j_per_mm=(0.01, 0.4))
        part = clearing_parts(beam, 0)
        powers = [one.power_fraction for piece in part for one in (*piece.lines, *piece.combs)]
        assert 0 < min(powers) <= max(powers) <= 1


def test_slots_are_opened_to_the_widths_that_are_stated():
    made = small("etch")
    opening = made.plan.coats[0].opening
    assert len(made.layout.slots) >= 8
    for slot in made.layout.slots:
        (ax, ay), (bx, by) = slot.from_mm, slot.to_mm
        middle = shapely.LineString([(ax, ay), (bx, by)]).interpolate(0.5, normalized=True)
        across = (0.0, 1.0) if ay == by else (1.0, 0.0)
        cut = shapely.LineString(
            [
                (middle.x - across[0], middle.y - across[1]),
                (middle.x + across[0], middle.y + across[1]),
            ]
        )
        crossing = opening.intersection(cut)
        length = min(shapely.get_parts(crossing), key=lambda part: part.distance(middle)).length
        assert length == pytest.approx(slot.opening_mm, abs=0.002)


def test_the_first_land_is_etched_away_and_the_others_stand():
    # A land loses the undercut, 60 um, on each edge.
    made = small("etch")
    assert len(made.layout.lands) >= 6
    finished = made.plan.coats[0].finished
    for land in made.layout.lands:
        middle = shapely.LineString([land.from_mm, land.to_mm]).interpolate(0.5, normalized=True)
        assert finished.covers(middle) == (land.land_mm < 0.12), land.id


class TestLabels:
    @pytest.mark.parametrize("letter", sorted(LETTERS - {" "}))
    def test_loops_of_a_letter_stay_open_at_the_smallest_label(self, letter):
        height = SETTINGS.letter_mm
        drawn = text_lines(letter, at_mm=(0, 0), height_mm=height).buffer(max(SETTINGS.mark_mm) / 2)
        loops = sum(len(part.interiors) for part in shapely.get_parts(drawn))
        assert loops == LOOPS.get(letter, 0)

    def test_no_two_letters_look_alike(self):
        drawn = {
            letter: text_lines(letter, at_mm=(0, 0), height_mm=6.0).buffer(0.5)
            for letter in LETTERS - {" "}
        }
        for one, other in combinations(sorted(drawn), 2):
            differ = drawn[one].symmetric_difference(drawn[other]).area
            assert differ > 0.1 * drawn[one].union(drawn[other]).area, (one, other)

    @pytest.mark.parametrize("worked_side", ["front", "back"])
    def test_labels_read_right_as_worked_whichever_side_that_is(self, worked_side):
        material = {} if worked_side == "front" else {"material": "acrylic-cast"}
        made = coupon(
            "clearing", blank=plate((36.0, 32.0), worked_side=worked_side, **material), etch=None
        )
        label = next(box for box in made.layout.other if box.what == "label X1")
        x0, y0, x1, y1 = label.box_mm
        cleared = made.plan.coats[0].opening.intersection(shapely.box(x0, y0, x1, y1))
        half = (x0 + x1) / 2
        # The 1 stands on the right: its stem and foot, and nothing of the X's crossing there.
        stem = cleared.intersection(shapely.box(half, y0, x1, y1))
        wide = stem.bounds[2] - stem.bounds[0]
        assert wide < 0.4 * (half - x0) * 2
        cross = cleared.intersection(shapely.box(x0, y0, half, y1))
        assert cross.bounds[2] - cross.bounds[0] > wide


class TestRefusals:
    def test_a_blank_too_small_is_refused_with_a_size_that_then_does(self):
        with pytest.raises(CouponError) as refused:
            coupon("clearing", size=(15.0, 12.0))
        words = str(refused.value)
        assert "15 x 12 mm" in words
        width, height = words.split("same sheet, ")[1].split(" mm")[0].split(" x ")
        assert coupon("clearing", size=(float(width), float(height))).plan.coats[0].program

    def test_what_finds_no_room_is_left_out_and_named(self):
        made = small("clearing")
        finding = next(f for f in made.plan.findings if f.code == "coupon-shortened")
        assert "X3" in finding.message
        assert {"X1", "Y1"} <= {name for name, _ in made.parts}

    def test_an_etch_coupon_needs_an_etch(self):
        with pytest.raises(CouponError, match=r"no \[etch\]"):
            coupon_job(make_job(etch=None), "etch")

    def test_a_bath_that_is_refused_stops_the_etch_coupon_and_not_the_clearing_one(self):
        strong = replace(LYE, etchant="ferric-chloride", etch_factor=Measured(value=1.0))
        made = coupon("etch", etch=replace(strong, strength=replace(LYE.strength, value=500.0)))
        assert any(finding.level is Level.STOP for finding in made.plan.findings)
        assert made.plan.coats[0].program is None
        assert made.plan.bounds_program is None
        assert coupon_job(make_job(etch=strong), "clearing").etch is None


def test_the_same_job_gives_the_same_coupon():
    with afresh():
        again = coupon("clearing")
    first = small("clearing")
    assert again.layout == first.layout
    assert again.plan.coats[0].program == first.plan.coats[0].program
    assert len(again.layout.identity.coupon_sha256) == 64
