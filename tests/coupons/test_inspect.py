"""Scans of pieces whose truth is known, drawn by the tests' own renderer."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import shapely

from coupons.piece_renderer import BLANK, FACE, OPENING, parts_with, render_piece
from coupons.scan_renderer import Look, to_image
from stopout.errors import CouponError
from stopout.scans.inspecting.certainty import certainty_of_a_spot
from stopout.scans.inspecting.dust import confirmed
from stopout.scans.inspecting.faults import smallest_spot_mm
from stopout.scans.inspecting.piece import Intended, inspect_piece, undercut_between
from stopout.scans.inspecting.raster import Grid, coverage
from stopout.scans.inspecting.whole import is_mirror_wrong, whole_words
from stopout.scans.registering.pose import apply

UNDERCUT_MM = 0.06
PLAN = Intended(
    opening=OPENING, face=FACE, undercut_mm=UNDERCUT_MM, undercut_sd_mm=0.01, mark_mm=0.07
)
FINE = Look(dpi=1200, rotation_deg=8)
COARSE = Look(dpi=600, rotation_deg=-8, uneven=0.15)
MIRRORED = Look(dpi=600, rotation_deg=4, is_mirrored=True, quarter_turns=1)
CORNERS = np.array([[5, 2], [20, 2], [20, 13], [5, 13.0]])
BAR = shapely.box(13.9, 1, 14.3, 9)
CORNER = shapely.box(5, 11, 6.5, 11.6)
CHIPS = [
    shapely.box(0, 13, 0.9, 16),
    shapely.box(10, 15.4, 16, 16),
    shapely.box(17, 0, 17.4, 4),
]
# The bar into which the last of them runs.
SCRAPED = 4
PINS = [(11, 14.5, 0.1), (21.5, 5, 0.1)]


def inspect(image, dpi, plan=PLAN, **told):
    return inspect_piece(iter([("luma", image.astype(np.float32))]), plan, stated_dpi=dpi, **told)


def etched(undercut_mm):
    return OPENING.buffer(undercut_mm, quad_segs=32)


@cache
def clean(look):
    """A piece as planned, cleared."""
    return render_piece(OPENING, look)


@cache
def spoilt():
    """At 600 dpi: a bar and a corner not cleared, two pinholes, the 7 30 um too wide, chips."""
    seven = parts_with(OPENING, (11, 6)).buffer(0.015, join_style="mitre")
    bare = shapely.union_all([OPENING, seven, *CHIPS]).difference(shapely.union_all([BAR, CORNER]))
    return inspect(render_piece(bare, COARSE, pins=PINS), 600)


@cache
def large_etched():
    """At 1200 dpi: etched 5 um less than planned, and 0.3 % too large."""
    look = Look(dpi=1200, rotation_deg=8, paint=200, cleared=60)
    return inspect(render_piece(etched(0.055), look, stretch=1.003), 1200)


@cache
def slanted():
    """At 600 dpi, as a photograph by hand sees it, levels as sRGB."""
    look = Look(dpi=600, rotation_deg=-8, tilt=(0.08, -0.05), blur_px=1.3, noise=4)
    return inspect(render_piece(OPENING, look, is_srgb=True), 600), look


def places_off_um(found, look, stretch=1.0):
    view, _ = to_image(BLANK, look)
    true = apply(view @ np.diag([stretch, stretch, 1]), CORNERS)
    return 25400 / look.dpi * np.hypot(*(apply(found.edges.matrix, CORNERS) - true).T).max()


# --- clean pieces -----------------------------------------------------------------------------


def test_a_clean_piece_reports_no_fault_and_lies_where_it_lies():
    found = inspect(clean(COARSE), 600)
    assert found.faults == ()
    assert (found.stage, found.stage_by) == ("cleared", "seen")
    assert found.rotation_deg == pytest.approx(-8, abs=0.02)
    assert places_off_um(found, COARSE) < 5
    assert abs(found.edges.growth_mm) < 0.002
    assert found.scale_error.value == pytest.approx(0, abs=5e-4)
    assert found.cautions == ()


def test_a_photograph_is_laid_flat_and_tells_no_scale():
    found, look = slanted()
    assert found.faults == ()
    assert places_off_um(found, look) < 8
    assert found.scale_error is None
    assert any("slanted" in one for one in found.cautions)


def test_levels_stored_as_srgb_are_told_by_the_edges():
    found, _ = slanted()
    assert found.tone == "light"
    assert abs(found.edges.growth_mm) < 0.003


# --- faults -----------------------------------------------------------------------------------


def kinds(found, kind):
    return [one for one in found.faults if one.kind == kind]


def test_missing_clearings_are_found_whole_or_in_part():
    missing = kinds(spoilt(), "missing")
    assert len(missing) == 2
    bar, corner = missing
    assert bar.is_whole
    assert not corner.is_whole
    assert bar.area_mm2 == pytest.approx(0.2 * 6, rel=0.05)
    assert bar.at_mm == pytest.approx((14.1, 5), abs=0.05)
    assert corner.area_mm2 == pytest.approx(1.5 * 0.6, rel=0.05)
    assert corner.at_mm == pytest.approx((5.75, 11.3), abs=0.1)
    assert bar.part == 2, "openings count from the lowest, as in the mask file"


def test_pinholes_of_a_tenth_of_a_mm_are_found_with_their_size():
    pins = kinds(spoilt(), "pinhole")
    assert len(pins) == 2
    for x, y, diameter in PINS:
        nearest = min(pins, key=lambda one: np.hypot(one.at_mm[0] - x, one.at_mm[1] - y))
        assert nearest.at_mm == pytest.approx((x, y), abs=0.03)
        assert nearest.diameter_mm == pytest.approx(diameter, abs=0.015)


def test_strokes_30_um_too_wide_are_found():
    wide = kinds(spoilt(), "wide")
    assert {one.part for one in wide} == {7, SCRAPED}
    wide = [one for one in wide if one.part == 7]
    # Twice the offset is what the stroke has too much; the fit of all edges gives way a little.
    for one in wide:
        assert 2 * one.offset_mm == pytest.approx(0.030, abs=0.010)
    assert sum(one.length_mm for one in wide) > 18, "of 27 mm"
    assert not kinds(spoilt(), "narrow")


def test_the_smallest_spot_told_is_seen_at_a_fifth_of_the_contrast():
    # 1 - exp(-r^2 / 2 s^2), the integral of a Gaussian over a disc about its middle.
    radius = smallest_spot_mm(0.02) / 2
    assert 1 - np.exp(-(radius**2) / (2 * 0.02**2)) == pytest.approx(0.2)


# --- etched -----------------------------------------------------------------------------------


def test_the_undercut_of_an_etched_piece_is_within_4_um():
    found = large_etched()
    assert (found.stage, found.stage_by) == ("etched", "seen")
    assert found.undercut_mm.value == pytest.approx(0.055, abs=0.004)
    assert 0.001 < found.undercut_mm.sd < 0.006
    assert found.faults == ()


def test_a_piece_three_thousandths_too_large_is_said_to_be():
    error = large_etched().scale_error
    assert error.value == pytest.approx(0.003, abs=3e-4)
    assert 0 < error.sd < 2e-4
    # The undercut is not taken for size, nor the size for undercut.
    look = Look(dpi=1200, rotation_deg=8, paint=200, cleared=60)
    assert places_off_um(large_etched(), look, 1.003) < 5


def test_a_scan_before_the_etch_takes_the_openings_own_error_out():
    bare = OPENING.buffer(0.008)
    before = inspect(render_piece(bare, COARSE), 600, stage="cleared")
    look = Look(dpi=600, rotation_deg=5, paint=200, cleared=60)
    after = inspect(render_piece(bare.buffer(0.055, quad_segs=32), look), 600, stage="etched")
    between = undercut_between(before, after)
    assert between.value == pytest.approx(0.055, abs=0.004)
    assert after.undercut_mm.value == pytest.approx(0.063, abs=0.004)


def test_resist_left_on_an_etched_piece_is_suspected():
    found = inspect(clean(COARSE), 600, stage="etched")
    assert any("strip it" in one for one in found.cautions)


# --- how it lies ------------------------------------------------------------------------------


def test_a_piece_seen_through_its_front_is_recognised_as_turned_over():
    found = inspect(clean(MIRRORED), 600)
    assert found.lie.is_mirrored
    assert places_off_um(found, MIRRORED) < 5


def test_a_piece_that_its_mirror_image_equals_is_taken_as_not_mirrored():
    bars = shapely.union_all([shapely.box(4, 3, 20, 4), shapely.box(7, 7, 17, 9)])
    plan = Intended(opening=bars, face=FACE, undercut_mm=0, undercut_sd_mm=0, mark_mm=0.07)
    found = inspect(render_piece(bars, Look(dpi=600)), 600, plan)
    assert not found.lie.is_mirrored
    assert not found.lie.mirror_told
    assert any("look alike" in one for one in found.cautions)


# --- refusals ---------------------------------------------------------------------------------


def glaring():
    image = clean(COARSE).copy()
    image[60:160, 120:260] = 255
    return image


@pytest.mark.parametrize(
    ("image", "words"),
    [
        (lambda: render_piece(OPENING, Look(dpi=600, paint=10, cleared=40, around=45)), "too dark"),
        (lambda: render_piece(OPENING, Look(dpi=600, paint=200, cleared=203, around=206)), "tone"),
        (lambda: render_piece(OPENING, Look(dpi=600, blur_px=6)), "blurred"),
        (lambda: clean(COARSE)[:, :540], "cropped"),
        (glaring, "white out"),
        (lambda: render_piece(shapely.box(4, 3, 20, 4), Look(dpi=600)), "not found"),
        (lambda: np.full((60, 80), 128, np.uint8), "pixels"),
    ],
    ids=["dark", "flat", "blurred", "cropped", "glare", "another piece", "tiny"],
)
def test_an_unfit_scan_is_refused_with_what_to_do(image, words):
    with pytest.raises(CouponError, match=words) as refused:
        inspect(image(), 600)
    assert "\n" not in str(refused.value)


def test_a_plan_that_etches_nothing_has_no_etched_stage():
    plan = Intended(opening=OPENING, face=FACE, undercut_mm=0, undercut_sd_mm=0, mark_mm=0.07)
    with pytest.raises(CouponError, match="etches nothing"):
        inspect(np.zeros((200, 200), np.uint8), 600, plan, stage="etched")


# --- pixels -----------------------------------------------------------------------------------


def test_coverage_sums_to_the_area_wherever_the_region_lies():
    grid = Grid(left_mm=-1, top_mm=3, pitch_mm=0.05, rows=100, columns=120)
    ring = shapely.Point(1.013, 0.507).buffer(1.2, quad_segs=64)
    region = ring.difference(shapely.box(0.611, 0.2, 1.307, 0.9))
    assert coverage(region, grid).sum() * 0.05**2 == pytest.approx(region.area, rel=2e-4)


def test_coverage_of_a_box_between_pixels_is_the_share_of_each():
    grid = Grid(left_mm=0, top_mm=1, pitch_mm=0.25, rows=4, columns=4)
    shares = coverage(shapely.box(0.3, 0.25, 0.6, 0.75), grid)
    np.testing.assert_allclose(shares[1:3], [[0, 0.8, 0.4, 0]] * 2, atol=1e-6)
    assert shares[[0, 3]].sum() == 0


# --- the piece as a whole ---------------------------------------------------------------------


def test_all_edges_30_um_too_wide_are_told_first():
    found = inspect(render_piece(OPENING.buffer(0.03), COARSE), 600, stage="cleared")
    assert found.all_edges_mm.value == pytest.approx(0.030, abs=0.002)
    (words,) = whole_words(found)
    assert words.startswith("all edges 30 um too wide")
    assert found.faults == (), "no stroke stands off from the others"


def test_edges_within_the_tolerance_are_no_fault_of_the_whole():
    assert whole_words(large_etched()) == []


def test_halfway_between_cleared_and_etched_the_stage_is_assumed_and_said_so():
    found = inspect(render_piece(OPENING.buffer(0.03), COARSE), 600)
    assert found.stage_by == "assumed"
    assert "give --stage" in whole_words(found)[0]


def test_a_mirrored_piece_is_told_first_unless_it_is_seen_through_its_front():
    assert "MIRRORED" in whole_words(inspect(clean(MIRRORED), 600))[0]
    assert whole_words(inspect(clean(MIRRORED), 600, is_seen_through=True)) == []
    assert is_mirror_wrong(inspect(clean(COARSE), 600, is_seen_through=True))


def test_bare_rims_outside_all_openings_are_no_faults_but_told():
    """A chipped corner and a scraped edge; a scrape from the edge into a bar is one."""
    assert len(spoilt().rims) == 2
    assert [one.part for one in kinds(spoilt(), "wide") if one.offset_mm is None] == [SCRAPED]


# --- dust -------------------------------------------------------------------------------------


def test_two_scans_of_the_moved_piece_part_dust_from_pinholes():
    """A pinhole goes with the piece; the flake on the glass, as bright as metal, does not."""
    pin, flake = PINS[0], (18.0, 6.0, 0.12)
    first = inspect(render_piece(OPENING, COARSE, pins=[pin, flake]), 600)
    look = Look(dpi=600, rotation_deg=60)
    second = inspect(render_piece(OPENING, look, pins=[pin]), 600)
    assert len(kinds(first, "pinhole")) == 2
    told = confirmed(first, second)
    (left,) = kinds(told, "pinhole")
    assert left.at_mm == pytest.approx(pin[:2], abs=0.03)
    assert left.certainty == "both"
    (dust,) = told.dust
    assert dust.at_mm == pytest.approx(flake[:2], abs=0.03)
    with pytest.raises(CouponError, match="move it by 5 mm"):
        confirmed(first, first)


@pytest.mark.parametrize(
    ("share", "area_mm2", "box_mm", "certainty"),
    [
        (1.0, 0.03, (0.2, 0.2), "sure"),
        (0.5, 0.03, (0.2, 0.2), "dust"),
        (1.6, 0.03, (0.2, 0.2), "dust"),
        (0.4, 0.003, (0.06, 0.06), "open"),
        (1.0, 0.05, (1.0, 0.6), "dust"),
    ],
    ids=["as bright as metal", "grey", "brighter than metal", "smaller than the blur", "a hair"],
)
def test_one_scan_tells_how_sure_a_spot_is(share, area_mm2, box_mm, certainty):
    assert certainty_of_a_spot(share, area_mm2, box_mm, 0.03) == certainty
