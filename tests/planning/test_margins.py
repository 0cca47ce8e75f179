"""Margins and advice: the formulas, and the advice tried out by planning just within and beyond."""

import pytest
from shapely import box, union_all

from jobmaker import LYE, make_job, mark, plan, replace
from stopout.planning.measures.margins import (
    advise,
    land_margin,
    land_remedies,
    needed_land_mm,
    stroke_margin,
    stroke_remedies,
)
from stopout.values import Measured

EXACT = Measured(value=1.0)
SPREAD = Measured(value=1.0, sd=0.1)
# A slot 0.16 mm wide, and two fields with a land of 0.20 mm between them.
SLOT = box(1, 1, 5, 1.16)
FIELDS = [box(1, 3, 3, 5), box(3.2, 3, 5, 5)]
ART = union_all([SLOT, *FIELDS])
LIMITS = {"edge_tolerance_mm": 0.03, "narrowest_land_mm": 0.15, "too_thin": "leave-out"}


def planned(region=ART, *, depth=0.05, axis=0.10, factor=EXACT):
    etch = replace(LYE, depth_mm=depth, etch_factor=factor)
    return plan(region, make_job(etch=etch, limits=LIMITS, clearing={"mark_mm": mark(axis)}))


def holds(made):
    """Nothing is left out, widened or lost, and no land is reported."""
    coat = made.coats[0]
    is_made = all(place.treatment == "made" for place in coat.thin_places)
    lands = [f for f in made.findings if f.code == "narrow-land" and f.level != "note"]
    return is_made and not lands and coat.outcome.lost == 0


def scaled(factor):
    """The artwork at another size, about the plate's corner."""
    return union_all([box(*(factor * value for value in part.bounds)) for part in (SLOT, *FIELDS)])


class TestTheAdviceHolds:
    def test_the_greatest_depth_for_the_strokes(self):
        """u + m / 2 <= w / 2 + e: 0.08 + 0.03 - 0.05 = 0.06 mm at an etch factor of 1."""
        advised = planned().coats[0].advice.greatest_depth_mm
        assert advised == pytest.approx(0.06, abs=0.0005)
        assert holds(planned(depth=0.99 * advised))
        assert not holds(planned(depth=1.03 * advised))

    def test_the_greatest_depth_for_the_lands(self):
        """(0.20 - 0.15) / (2 (1 / 0.8 - 1 / 1)) = 0.1 mm; strokes here allow more."""
        land = union_all(FIELDS)
        advised = planned(land, factor=SPREAD).coats[0].advice.greatest_depth_mm
        assert advised == pytest.approx(0.10, abs=0.001)
        assert holds(planned(land, depth=0.98 * advised, factor=SPREAD))
        reported = planned(land, depth=1.04 * advised, factor=SPREAD).coats[0]
        assert reported.narrow_lands

    def test_the_smallest_scale(self):
        advised = planned(depth=0.05).coats[0].advice.smallest_scale
        # 2 (0.05 + 0.05 - 0.03) / 0.16 = 0.875 of this size; lands would allow 0.75.
        assert advised == pytest.approx(0.875, abs=0.005)
        assert holds(planned(scaled(1.01 * advised)))
        assert not holds(planned(scaled(0.97 * advised)))

    def test_the_largest_mark(self):
        advised = planned().coats[0].advice.largest_mark_mm
        # 2 (0.08 + 0.03 - 0.05) = 0.12 mm.
        assert advised == pytest.approx(0.12, abs=0.001)
        assert holds(planned(axis=0.99 * advised))
        assert not holds(planned(axis=1.03 * advised))


class TestTheFormulas:
    def test_type_b_lettering_needs_ten_strokes_of_mark_and_undercut(self):
        """ISO 3098-1, type B: strokes a tenth of the height; heights 1.8, 2.5, 3.5, 5 ... mm
        (the standard's series, from memory)."""
        found = advise(
            stroke_mm=0.3,
            land_mm=0.3,
            mark_mm=0.1,
            depth_mm=0.15,
            factor=Measured(value=1.5),
            edge_tolerance_mm=0.05,
            narrowest_land_mm=0.15,
        )
        assert found.letter_height_mm == pytest.approx(3.0)
        assert found.standard_height_mm == 3.5

    def test_the_spread_of_the_undercut_counts_on_both_edges(self):
        found = stroke_margin(0.2, undercut=Measured(value=0.05, sd=0.01), mark=mark(0.1))
        assert (found.width_mm, found.sd_mm) == pytest.approx((0.3, 0.02))
        assert (found.low_mm, found.high_mm) == pytest.approx((0.26, 0.34))
        assert found.survives

    def test_a_land_that_is_gone_at_the_low_end_does_not_survive(self):
        found = land_margin(0.03, undercut=Measured(value=0.05, sd=0.01), mark=mark(0.1))
        assert not found.survives
        assert found.low_mm == 0.0

    def test_the_needed_land_takes_the_etch_factor_two_deviations_low(self):
        # 0.15 + 2 x 0.06 (1 / 0.8 - 1) mm.
        assert needed_land_mm(0.15, depth_mm=0.06, factor=SPREAD) == pytest.approx(0.18)
        assert needed_land_mm(0.15, depth_mm=0.06, factor=None) == 0.15

    def test_where_nothing_is_etched_no_depth_is_advised(self):
        found = advise(
            stroke_mm=0.3,
            land_mm=0.3,
            mark_mm=0.1,
            depth_mm=0.0,
            factor=None,
            edge_tolerance_mm=0.0,
            narrowest_land_mm=0.15,
        )
        assert found.greatest_depth_mm is None
        assert found.largest_mark_mm == pytest.approx(0.3)


class TestTheRemediesSayNumbers:
    def test_of_a_stroke(self):
        text = stroke_remedies(
            0.12, mark_mm=0.1, undercut_mm=0.06, factor=EXACT, edge_tolerance_mm=0.03
        )
        # 0.06 + 0.03 - 0.05; 2 (0.06 + 0.03 - 0.06); 2 (0.06 + 0.05 - 0.03) / 0.12.
        assert text == (
            "Etch at most 0.040 mm deep, use a mark of at most 0.060 mm, or make the artwork at "
            "least 134 % of this size."
        )

    def test_of_a_land(self):
        text = land_remedies(0.16, narrowest_land_mm=0.15, depth_mm=0.06, factor=SPREAD)
        assert text == (
            "Etch at most 0.020 mm deep, or make the artwork at least 113 % of this size."
        )

    def test_a_finding_carries_them(self):
        made = planned(union_all([box(1, 1, 5, 1.10), *FIELDS]))
        (finding,) = [f for f in made.findings if f.code in ("thin-opening", "part-lost")]
        assert "etch at most 0.030 mm deep" in finding.remedy.lower()
        assert "140 % of this size" in finding.remedy


class TestTheRemediesOfAStrokeAgree:
    def test_the_width_and_the_size_named_are_the_same(self):
        """2 (u + m / 2 - e) = 2 (0.10 + 0.05 - 0.03) = 0.24 mm: 150 % of 0.16 mm."""
        made = planned(SLOT, depth=0.10)
        (finding,) = [f for f in made.findings if f.code in ("thin-opening", "part-lost")]
        assert "Draw it 0.24 mm wide or more." in finding.remedy
        assert "at least 150 % of this size" in finding.remedy
        assert not holds(planned(box(1, 1, 5, 1.235), depth=0.10))
        assert holds(planned(box(1, 1, 5, 1.2402), depth=0.10))

    def test_the_narrowest_place_is_named_where_the_size_is_reckoned_from_it(self):
        """A slot 0.16 mm wide that runs on 0.12 mm wide: 0.24 mm are 200 % of that."""
        made = planned(union_all([SLOT, box(5, 1.02, 7, 1.14)]), depth=0.10)
        (finding,) = [f for f in made.findings if f.code in ("thin-opening", "part-lost")]
        assert "0.24 mm wide or more throughout (0.120 mm at its narrowest now)" in finding.remedy
        assert "at least 200 % of this size" in finding.remedy
