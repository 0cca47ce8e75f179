"""Undercut and mask rules against the trade's definition of the etch factor and plane geometry.

Etch factor = depth / undercut per edge: Allen, Horne and Stevens 1982, Photo Chemical Machining
Institute. Tactile signs raised at
least 0.8 mm: ADA Standards for Accessible Design (2010), section 703.2. ISO 3098 type B lettering:
strokes a tenth of the height. What is marked "geometry" is a closed form derived here.
"""

import math

import pytest
import shapely
from shapely import Point, Polygon, box

from shapes import ALL
from stopout.etching import undercut_mm
from stopout.mask import dilate, erode, make_mask
from stopout.planning.measures.margins import advise
from stopout.values import Measured

FINE_MARK = 1e-4


def test_the_undercut_is_the_depth_over_the_etch_factor():
    """Allen, Horne and Stevens 1982: 0.150 mm deep at 1.5 undercuts 0.100 mm an edge."""
    assert undercut_mm(0.150, 1.5) == pytest.approx(0.100, abs=1e-6)
    grown = dilate(box(0, 0, 5, 1), 0.100)
    assert grown.bounds[3] - grown.bounds[1] == pytest.approx(1.200, abs=1e-6)


def test_the_etch_factor_follows_from_the_measured_widths():
    """Same definition: resist 0.300, etched 0.500, depth 0.150 mm; u = (0.500 - 0.300) / 2."""
    undercut = (0.500 - 0.300) / 2
    assert 0.150 / undercut == pytest.approx(1.50, abs=1e-6)
    assert undercut_mm(0.150, 1.50) == pytest.approx(undercut, abs=1e-6)


def test_a_drawn_line_and_space_becomes_opening_and_land_of_resist():
    """Geometry: 0.30 / 0.30 mm, 0.1 mm deep at 1.5: opening 0.1667, land of resist 0.4333 mm."""
    undercut = undercut_mm(0.1, 1.5)
    lines = shapely.union_all([box(0, 0, 4, 0.3), box(0, 0.6, 4, 0.9)])
    low, high = sorted(erode(lines, undercut).geoms, key=lambda part: part.bounds[1])
    assert low.bounds[3] - low.bounds[1] == pytest.approx(0.1667, abs=1e-4)
    assert low.distance(high) == pytest.approx(0.4333, abs=1e-4)


def test_the_smallest_stroke_is_the_mark_and_both_undercuts():
    """Geometry and ISO 3098 type B: mark 0.1, depth 0.15 at 1.5: 0.300 mm, letters 3.0 mm high."""
    undercut = undercut_mm(0.15, 1.5)
    advice = advise(
        stroke_mm=0.5,
        land_mm=0.5,
        mark_mm=0.1,
        depth_mm=0.15,
        factor=Measured(value=1.5),
        edge_tolerance_mm=0.0,
        narrowest_land_mm=0.15,
    )
    assert advice.letter_height_mm == pytest.approx(3.0, abs=1e-6)
    for width, n_thin in ((0.301, 0), (0.299, 1)):
        mask = make_mask(box(0, 0, 4, width), undercut_mm=undercut, mark_mm=(0.1, 0.1))
        assert len(mask.thin_places) == n_thin


@pytest.mark.parametrize(("degrees", "in_undercuts"), [(30, 3.864), (60, 2.000), (90, 1.414)])
def test_a_point_of_the_opening_recedes_by_the_undercut_over_the_sine(degrees, in_undercuts):
    """Geometry: the opening's tip lies u / sin(half angle) inside the drawn tip."""
    half, undercut = math.radians(degrees / 2), 0.1
    far = 5.0
    wedge = Polygon([(0, 0), (far, far * math.tan(half)), (far, -far * math.tan(half))])
    tip = erode(wedge, undercut).bounds[0]
    assert tip == pytest.approx(in_undercuts * undercut, abs=0.001 * undercut + 2e-5)


def test_a_square_corner_falls_short_by_the_root_of_two_less_one():
    """Geometry: 0.4142 u from the tip to the etched arc."""
    undercut = 0.5
    etched = dilate(erode(box(0, 0, 4, 4), undercut), undercut)
    assert Point(0, 0).distance(etched) == pytest.approx(0.4142 * undercut, abs=1e-4)


@pytest.mark.parametrize("name", ALL)
def test_etching_a_shrunk_opening_stays_within_the_drawing(name):
    """Opening is anti-extensive (mathematical morphology), for any region."""
    opened = dilate(erode(ALL[name], 0.08), 0.08)
    assert opened.difference(ALL[name].buffer(0.0005)).area < 1e-9


def test_a_bar_narrower_than_twice_the_undercut_vanishes_and_is_reported():
    """Geometry: nothing of it is left to open, and the plan has a place to tell of."""
    bar = box(0, 0, 4, 0.19)
    assert erode(bar, 0.1).is_empty
    mask = make_mask(bar, undercut_mm=0.1, mark_mm=(FINE_MARK, FINE_MARK), too_thin="leave-out")
    assert mask.centres.is_empty
    assert [place.treatment for place in mask.thin_places] == ["left out"]


def test_a_tactile_sign_is_undercut_half_a_millimetre():
    """ADA Standards (2010), 703.2: raised 0.8 mm; at an etch factor of 1.5 u = 0.533 mm."""
    assert undercut_mm(0.8, 1.5) == pytest.approx(0.533, abs=0.001)
