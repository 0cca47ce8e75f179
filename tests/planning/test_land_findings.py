"""Findings about lands: bridges that go, counters that close, specks, resist that may lift.

The numbers are plane geometry: two strokes of width w, finished m + 2 u wide about their middle
lines, come over their drawn edges by u + (m - w) / 2 on each side of the gap between them. Each
remedy is tried out by planning just within and just beyond it.
"""

import re

import pytest
from shapely import Point, affinity, box, union_all

from jobmaker import LYE, MARK, UNDERCUT, make_job, mark, plan, replace
from stopout.planning.findings.kinds import ranked
from stopout.planning.measures.margins import bridge_remedies, depth_that_keeps
from stopout.values import Finding, Level, Measured

EXACT = Measured(value=1.0)
LIMITS = {"edge_tolerance_mm": 0.0, "narrowest_land_mm": 0.08, "too_thin": "widen"}
# Strokes 0.10 mm wide with 0.10 mm between them; finished 0.22 mm wide each comes over by 0.06.
PAIR = union_all([box(1, 1, 5, 1.10), box(1, 1.20, 5, 1.30)])


def planned(region, *, depth=UNDERCUT, axis=MARK, factor=EXACT, **limits):
    etch = replace(LYE, depth_mm=depth, etch_factor=factor)
    return plan(
        region, make_job(etch=etch, limits=LIMITS | limits, clearing={"mark_mm": mark(axis)})
    )


def of(made, code):
    return [finding for finding in made.findings if finding.code == code]


class TestABridgeThatGoes:
    def test_is_one_finding_with_place_and_width(self):
        made = planned(PAIR)
        (finding,) = of(made, "parts-merged")
        assert finding.at_mm == pytest.approx((3.0, 1.15), abs=0.2)
        assert "0.100 mm wide" in finding.message
        (bridge,) = made.coats[0].bridges
        # Between two lines cleared 0.10 mm wide, 0.20 mm apart.
        assert bridge.resist_mm == pytest.approx(0.10, abs=0.002)
        assert bridge.over_mm == pytest.approx((0.06, 0.06), abs=0.002)

    def test_is_kept_at_the_depth_that_the_remedy_names(self):
        """0.10 - 2 u >= 0.08 mm: at most 0.010 mm deep."""
        assert "Etch at most 0.010 mm deep" in of(planned(PAIR), "parts-merged")[0].remedy
        kept = planned(PAIR, depth=0.0098).coats[0]
        assert kept.outcome.merged == 0
        assert kept.finished_land_mm >= 0.08
        assert planned(PAIR, depth=0.011).coats[0].finished_land_mm < 0.08

    def test_is_kept_by_the_gap_that_the_remedy_names(self):
        """0.08 + 2 x 0.06 mm."""
        assert "at least 0.200 mm wide" in of(planned(PAIR), "parts-merged")[0].remedy
        wider = union_all([box(1, 1, 5, 1.10), box(1, 1.301, 5, 1.401)])
        assert planned(wider).coats[0].finished_land_mm >= 0.08

    def test_is_kept_by_the_mark_that_the_remedy_names(self):
        """Two strokes 0.16 mm wide, 0.10 mm apart: (m + 0.12 - 0.16) / 2 on each side, so that
        0.08 mm stay of it where m <= 0.06 mm."""
        pair = union_all([box(1, 1, 5, 1.16), box(1, 1.26, 5, 1.42)])
        (finding,) = of(planned(pair, axis=0.15), "parts-merged")
        assert "a mark of at most 0.060 mm" in finding.remedy or "0.059 mm" in finding.remedy
        assert planned(pair, axis=0.059).coats[0].finished_land_mm >= 0.08

    def test_each_gap_is_a_finding(self):
        three = union_all([PAIR, box(1, 1.42, 5, 1.52)])
        found = of(planned(three), "parts-merged")
        assert len(found) == 2
        assert {round(finding.at_mm[1], 2) for finding in found} == {1.15, 1.36}

    def test_between_two_places_of_one_part_is_told_too(self):
        """A stroke that turns back on itself: two arms 0.10 mm apart, wider apart at their foot."""
        hook = union_all(
            [
                box(1, 1, 3, 1.10),
                box(1, 1.20, 3, 1.30),
                box(2.9, 1, 4, 1.10),
                box(3.9, 1, 4, 2),
                box(2.9, 1.9, 4, 2),
                box(2.9, 1.20, 3, 2),
            ]
        )
        (finding,) = of(planned(hook), "parts-merged")
        assert finding.at_mm == pytest.approx((2, 1.15), abs=1.1)
        assert "0.100 mm wide" in finding.message

    def test_a_land_wide_enough_is_no_finding(self):
        assert not of(planned(union_all([box(1, 1, 5, 2), box(1, 2.3, 5, 3)])), "parts-merged")

    def test_where_the_beam_itself_clears_it_no_depth_is_named(self):
        near = union_all([box(1, 1, 5, 1.04), box(1, 1.08, 5, 1.12)])
        (finding,) = of(planned(near), "parts-merged")
        assert "beam itself" in finding.message
        assert "deep" not in finding.remedy


class TestACounterThatCloses:
    # A ring of strokes 0.10 mm wide round a counter 0.10 mm across.
    RING = Point(5, 5).buffer(0.15, 64).difference(Point(5, 5).buffer(0.05, 64))

    def test_is_one_finding_with_place_and_width(self):
        made = planned(self.RING)
        (finding,) = of(made, "counter-closed")
        assert finding.at_mm == pytest.approx((5, 5), abs=0.01)
        assert "0.100 mm wide" in finding.message
        assert not of(made, "parts-merged")

    def test_is_kept_at_the_depth_that_the_remedy_names(self):
        """0.10 - 2 u >= 0.08 mm, as between two strokes."""
        remedy = of(planned(self.RING), "counter-closed")[0].remedy
        depth = float(remedy.split("at most ")[1].split(" ")[0])
        assert depth == pytest.approx(0.010, abs=0.0015)
        kept = planned(self.RING, depth=depth)
        assert kept.coats[0].finished_land_mm >= 0.079
        assert not of(kept, "counter-closed")

    def test_two_of_them_are_two(self):
        two = union_all([self.RING, affinity.translate(self.RING, 2, 1)])
        assert len(of(planned(two), "counter-closed")) == 2

    def test_a_long_one_is_measured_across(self):
        frame = box(1, 1, 1.9, 1.3).difference(box(1.1, 1.1, 1.8, 1.2))
        (finding,) = of(planned(frame), "counter-closed")
        assert "0.100 mm wide" in finding.message


class TestTheFormula:
    def test_both_sides_draw_back_then_one(self):
        """0.20 mm with sides 0.02 and 0.15 over: one must draw back to 0.10, the other to 0."""
        depth = depth_that_keeps(0.20, (0.02, 0.15), least_mm=0.10, depth_mm=0.12, factor=EXACT)
        assert depth == pytest.approx(0.07, abs=1e-6)

    def test_the_worst_etch_factor_counts(self):
        """0.20 - 2 (d / 0.8 - 0.02) >= 0.10 mm: d = 0.056 mm."""
        depth = depth_that_keeps(
            0.20,
            (0.08, 0.08),
            least_mm=0.10,
            depth_mm=0.10,
            factor=Measured(value=1.0, sd=0.1),
        )
        assert depth == pytest.approx(0.056, abs=1e-6)

    def test_a_gap_under_the_limit_has_no_depth(self):
        assert (
            depth_that_keeps(0.07, (0.0, 0.06), least_mm=0.08, depth_mm=0.1, factor=EXACT) is None
        )
        text = bridge_remedies(
            0.07,
            (0.06, 0.06),
            resist_mm=0.07,
            narrowest_land_mm=0.08,
            depth_mm=0.06,
            factor=EXACT,
            mark_mm=0.1,
        )
        assert text == "Draw it at least 0.200 mm wide."


class TestSpecks:
    def test_a_small_opening_is_large_enough_at_the_size_named(self):
        """A dot of radius 0.16 mm: the resist is opened 0.10 mm in radius, 0.0314 mm^2."""
        dot = Point(5, 5).buffer(0.16, 64)
        (finding,) = of(planned(dot), "small-opening")
        area = float(finding.message.split("smallest has ")[1].split(" ")[0])
        assert area == pytest.approx(0.0314, rel=0.01)
        assert "0.05 mm^2 (our own rule, no source)" in finding.message
        percent = int(finding.remedy.split("at least ")[1].split(" ")[0])
        larger = affinity.scale(dot, percent / 100, percent / 100)
        assert not of(planned(larger), "small-opening")

    def test_a_small_island_is_large_enough_at_the_size_named(self):
        """A square of 0.10 mm in a field: resist 0.22 mm square with round corners."""
        island = box(4.95, 4.95, 5.05, 5.05)
        field = box(3, 3, 7, 7)
        (finding,) = of(planned(field.difference(island)), "small-island")
        percent = int(finding.remedy.split("at least ")[1].split(" ")[0])
        for share, n_found in ((percent / 100, 0), (percent / 100 - 0.04, 1)):
            larger = affinity.scale(island, share, share)
            assert len(of(planned(field.difference(larger)), "small-island")) == n_found

    def test_an_island_with_an_opening_in_it_counts_without_that(self):
        """0.3 mm square less an opening 0.24 mm square: less than the limit of 0.05 mm^2."""
        target = union_all(
            [box(3, 3, 7, 7).difference(box(4.86, 4.86, 5.14, 5.14)), box(4.9, 4.9, 5.1, 5.1)]
        )
        made = planned(target, depth=0.005, axis=0.05)
        assert of(made, "small-island")


class TestResistThatMayLift:
    def test_is_told_with_place_and_the_depth_that_holds(self):
        """0.10 mm between two fields, 0.14 mm deep: it stands on 0.10 mm, less than the depth."""
        fields = union_all([box(1, 1, 3, 4), box(3.10, 1, 5, 4)])
        (finding,) = of(planned(fields, depth=0.14), "resist-lifts")
        assert finding.at_mm[0] == pytest.approx(3.05, abs=0.01)
        depth = float(finding.remedy.split("at most ")[1].split(" ")[0])
        assert depth == pytest.approx(0.10, abs=0.002)
        assert not of(planned(fields, depth=depth - 0.002), "resist-lifts")

    def test_is_a_caution_where_the_etch_meets_under_it(self):
        """0.10 mm of resist between two thin strokes, 0.06 mm of undercut on each side; another
        land is finished 0.09 mm wide."""
        fields = union_all([PAIR, box(6, 1, 7, 3), box(7.09, 1, 9, 3)])
        found = of(planned(fields), "resist-lifts")
        assert [f.level for f in found] == [Level.CAUTION]
        assert "etched away" in found[0].message
        assert "0.000" not in found[0].message


class TestTheOrderOfFindings:
    def test_chemistry_then_what_is_lost_then_thin_strokes_and_lands(self):
        def told(code, level=Level.CAUTION):
            return Finding(code=code, level=level, message=code)

        first = [told("gas"), told("resist-time", Level.STOP)]
        coded = ("thin-opening", "parts-merged", "thin-opening", "coupon-needed")
        others = [told(code) for code in coded]
        others += [told("blank-centred", Level.NOTE), told("outside-bed", Level.STOP)]
        assert [f.code for f in ranked(others, first=first)] == [
            "resist-time",
            "outside-bed",
            "gas",
            "coupon-needed",
            "parts-merged",
            "thin-opening",
            "blank-centred",
        ]


class TestWhatIsKnown:
    def test_a_land_narrower_than_two_deviations_may_not_survive(self):
        """0.10 mm; the undercut 0.06 mm x sd 0.5 / 1 on both edges: 0.10 - 2 x 0.06 mm < 0."""
        fields = union_all([box(1, 1, 3, 4), box(3.10, 1, 5, 4)])
        unsure = Measured(value=1.0, sd=0.5)
        (finding,) = of(planned(fields, factor=unsure, narrowest_land_mm=0.0), "may-not-survive")
        assert "land" in finding.message
        sure = planned(fields, factor=Measured(value=1.0, sd=0.05), narrowest_land_mm=0.0)
        assert not of(sure, "may-not-survive")

    def test_a_mark_known_too_badly_may_leave_a_stroke_shut(self):
        slot = box(1, 1, 5, 1.25)
        axis = Measured(value=0.10, sd=0.07)
        made = plan(slot, make_job(limits=LIMITS, clearing={"mark_mm": (axis, axis)}))
        (finding,) = of(made, "may-not-survive")
        assert "stroke" in finding.message


@pytest.mark.parametrize(("beyond", "is_kept"), [(-0.02, False), (0.005, True)])
def test_a_land_along_the_blanks_edge_is_kept_by_the_room_that_the_remedy_names(beyond, is_kept):
    """Moving is all that helps there, and the room is told: tried just within and beyond it."""
    near = planned(box(5, 0.1, 10, 2), narrowest_land_mm=0.15)
    (told,) = [one for one in near.verdict.told if one.code == "narrow-land"]
    assert "wide to the blank's edge" in told.message
    room = float(re.search(r"Keep the artwork ([\d.]+) mm or more from the blank", told.remedy)[1])
    moved = planned(box(5, room + beyond, 10, 2), narrowest_land_mm=0.15)
    assert (not of(moved, "narrow-land")) is is_kept


def test_lands_along_two_edges_of_the_blank_are_one_finding():
    near = planned(union_all([box(2, 0.1, 5, 2), box(7, 8, 10, 9.9)]), narrowest_land_mm=0.15)
    (told,) = [one for one in near.verdict.told if one.code == "narrow-land"]
    assert "2 gaps to the blank's edge, as narrow as 0.100 mm," in told.message
