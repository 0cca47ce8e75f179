"""Letter height and distance: published tables, and letters measured on real outlines."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import shapely.affinity
from shapely.geometry import Point, box

from bench.lettering_regions import lettering
from jobmaker import drawing, make_job, plate
from stopout.planning.measures import lettering as measured
from stopout.planning.measures.lettering import lettering_lines, stroke_width_mm
from stopout.planning.signs.legibility import (
    ada_height_mm,
    ada_stroke_mm,
    legibility_findings,
    visual_angle_height_mm,
)


@pytest.mark.parametrize(
    ("distance", "baseline", "height", "tolerance"),
    [(1500, 1500, 16.0, 0.2), (3000, 1500, 28.3, 0.3), (6000, 2500, 66.0, 0.4),
     (10000, 3500, 112.8, 1.0)],
)  # fmt: skip
def test_heights_of_visual_characters(distance, baseline, height, tolerance):
    """2010 ADA Standards for Accessible Design, table 703.5.5, mm column; slope continuous."""
    assert ada_height_mm(distance, baseline_mm=baseline) == pytest.approx(height, abs=tolerance)


def test_a_baseline_lower_than_the_table_has_is_refused():
    with pytest.raises(ValueError, match="1015 mm"):
        ada_height_mm(1000, baseline_mm=900)


def test_strokes_of_visual_characters_50_mm_high():
    """2010 ADA Standards, 703.5.7: 10 to 30 %."""
    assert ada_stroke_mm(50) == pytest.approx((5, 15))


@pytest.mark.parametrize(
    ("distance", "arcmin", "height"), [(500, 15, 2.182), (1000, 16, 4.654), (1000, 20, 5.818)]
)
def test_heights_under_a_visual_angle(distance, arcmin, height):
    """h = 2 D tan(angle / 2), worked by hand to the last digit."""
    assert visual_angle_height_mm(distance, arcmin) == pytest.approx(height, abs=0.002)


def test_an_inch_in_ten_feet_is_28_65_minutes_of_arc():
    assert visual_angle_height_mm(3048, 28.65) == pytest.approx(25.4, abs=0.05)


@pytest.mark.parametrize(("width", "length"), [(0.5, 5.0), (1.0, 3.0), (2.0, 2.5)])
def test_the_stroke_of_a_bar_is_its_width(width, length):
    bar = box(0, 0, width, length)
    assert stroke_width_mm(bar.area, bar.length) == pytest.approx(width)


def test_the_stroke_of_a_ring_is_its_width_within_a_tenth():
    ring = Point(0, 0).buffer(5).difference(Point(0, 0).buffer(4))
    assert stroke_width_mm(ring.area, ring.length) == pytest.approx(1.0, rel=0.1)


@pytest.mark.parametrize("capital", [3.0, 7.2])
def test_lines_of_a_free_typeface_are_found_with_their_height(capital):
    upper = lettering("SLUICE", capital_mm=capital)
    lower = lettering("Please ring", capital_mm=capital / 2, at=(0.0, -2.2 * capital))
    lines = lettering_lines([upper, lower])
    assert len(lines) == 2
    assert lines[1].height_mm == pytest.approx(capital, rel=0.04)
    assert lines[0].height_mm == pytest.approx(0.5 * capital, rel=0.12)
    assert 0.08 < lines[1].stroke_mm / capital < 0.25


def test_a_border_and_a_row_of_rules_are_no_lettering():
    rules = [box(0, 3.0 * k, 40, 3.0 * k + 0.5) for k in range(5)]
    assert lettering_lines(rules) == []


@pytest.mark.parametrize("word", ["DE", "No", "K7", "ON"])
def test_a_word_of_two_letters_is_found_where_their_heights_are_alike(word):
    lines = lettering_lines([lettering(word, capital_mm=10.0)])
    if word == "No":
        # A small letter beside a capital could be anything.
        assert lines == []
        return
    (line,) = lines
    assert line.letters == 2
    assert line.height_mm == pytest.approx(10.0, rel=0.05)


def test_pairs_of_ornaments_are_no_word():
    ring = Point(0, 0).buffer(5).difference(Point(0, 0).buffer(4))
    bars = [box(0, 0, 1, 10), box(4, 0, 5, 10)]
    blocks = [box(0, 0, 8, 10), box(9, 0, 20, 10)]
    arrow = shapely.Polygon([(0, 4), (6, 4), (6, 1), (10, 5), (6, 9), (6, 6), (0, 6)])
    other = shapely.affinity.scale(arrow, -1, 1, origin=(12, 5))
    rings = [ring, shapely.affinity.translate(ring, 13, 0)]
    for pair in (bars, blocks, [arrow, other], rings):
        assert lettering_lines(pair) == []


def reading(capital, distance, side="front"):
    job = make_job(
        blank=plate((120.0, 60.0), worked_side=side), limits={"viewing_distance_mm": distance}
    )
    region = lettering("SLUICE", capital_mm=capital, at=(5.0, 20.0))
    return legibility_findings(job, drawing(region))


def test_letters_too_small_for_their_distance_are_a_caution_with_the_factor_that_helps():
    finding = reading(5.0, 3000.0)[0]
    assert (finding.code, finding.level) == ("letters-distance", "caution")
    assert "14.0 mm" in finding.remedy


def test_letters_are_told_where_the_back_worked_piece_has_them():
    front, back = (reading(5.0, 3000.0, side)[0].at_mm for side in ("front", "back"))
    assert front[0] + back[0] == pytest.approx(120.0)
    assert front[0] < 50.0
    assert front[1] == back[1]


def test_letters_large_enough_are_a_note():
    (finding, *_) = reading(16.5, 1500.0)
    assert finding.level == "note"
    assert finding.remedy == ""


def test_nothing_is_said_without_a_distance_and_nothing_is_judged_without_letters():
    assert legibility_findings(make_job(), drawing(box(1, 1, 5, 5))) == []
    job = make_job(limits={"viewing_distance_mm": 1000.0})
    (finding,) = legibility_findings(job, drawing(shapely.union_all([box(1, 1, 5, 5)])))
    assert finding.code == "letters-not-found"
    assert "4.7 mm" in finding.message


@pytest.mark.parametrize("seed", range(8))
def test_letters_side_by_side_are_those_that_pairs_of_them_link(seed):
    rng = np.random.default_rng(seed)
    low = rng.uniform(0, 20, (60, 2)).round(seed % 2)
    boxes = np.hstack([low, low + rng.uniform(0, 3, low.shape)])
    home = np.arange(len(boxes))
    for k, (x0, y0, x1, y1) in enumerate(boxes):
        for j, (u0, v0, u1, v1) in enumerate(boxes):
            tall, short = max(y1 - y0, v1 - v0), min(y1 - y0, v1 - v0)
            near = (u0, j) > (x0, k) and u0 - x1 <= 1.2 * tall <= 1.2 * 1.9 * short
            shared, inside = min(y1, v1) - max(y0, v0), min(x1, u1) - max(x0, u0)
            if near and 2 * shared > short and 2 * inside < min(x1 - x0, u1 - u0):
                home[home == home[j]] = home[k]
    plain = {frozenset(np.flatnonzero(home == name).tolist()) for name in home}
    assert {frozenset(group) for group in measured._groups(boxes)} == plain
