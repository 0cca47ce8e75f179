"""The quick ways of readers and renderers against plain ones.

Poses of discs and of pieces, widths of sections, slopes of an edge; scans drawn by the points of
those pixels alone that an outline may cross.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from coupons import scan_renderer
from coupons.piece_renderer import OPENING, render_piece
from coupons.plain_poses import plain_poses
from coupons.scan_renderer import Look, Truth, render
from effort import tries
from stopout.coupons.layout import CouponLayout, RegistrationMark
from stopout.scans.inspecting import pose
from stopout.scans.measuring.sections import fit_sections
from stopout.scans.measuring.strip import EdgeProfile, Strip, StripFit, _solve
from stopout.scans.registering.discs import Spot, _edge_share, _edge_slopes, edge_spread
from stopout.scans.registering.pose import apply, local_scale, possible_poses

# --- poses ------------------------------------------------------------------------------------


def scattered(seed):
    """A layout and the spots of a scan of it: some discs missing, dirt, spots twice in a place."""
    rng = np.random.default_rng(seed)
    width, height = rng.uniform(20, 90, 2)
    count = int(rng.integers(2, 7))
    marks = [
        RegistrationMark(
            centre_mm=(rng.uniform(2, width - 2), rng.uniform(2, height - 2)), diameter_mm=d
        )
        for d in rng.choice([2.0, 2.0, 3.0], count)
    ]
    if seed % 3 == 0 and count > 3:
        # Four in a rectangle, which a turn or a mirror leaves as they are.
        for k, at in enumerate([(2, 2), (width - 2, 2), (width - 2, height - 2), (2, height - 2)]):
            marks[k] = RegistrationMark(centre_mm=at, diameter_mm=2.0)
    layout = CouponLayout(kind="clearing", width_mm=width, height_mm=height, marks=tuple(marks))
    turn, px = rng.uniform(0, 2 * np.pi), rng.uniform(8, 40)
    c, s = px * np.cos(turn), px * np.sin(turn)
    flip = -1.0 if rng.random() < 0.5 else 1.0
    tilt = rng.normal(0, 3e-4, 2) * (rng.random() < 0.5)
    view = np.array([[c * flip, -s, 900], [s * flip, c, 800], [*tilt, 1]])
    seen = apply(view, np.array([mark.centre_mm for mark in marks]))
    spots = []
    for (x, y), mark in zip(seen + rng.normal(0, 0.3, seen.shape), marks, strict=True):
        if rng.random() < 0.9:
            radius = mark.diameter_mm / 2 * px * rng.uniform(0.95, 1.2)
            spots.append(spot(x, y, radius, rng))
    for _ in range(int(rng.integers(0, 18))):
        x, y = rng.uniform(0, 1800, 2)
        spots.append(spot(x, y, px * rng.uniform(0.5, 2), rng, rng.random() < 0.7))
    if len(spots) > 1 and seed % 4 == 0:
        spots.append(replace(spots[0], x_px=spots[0].x_px + 2.0, support=3))
    return layout, sorted(spots, key=lambda one: -one.support)


def spot(x, y, radius, rng, is_bright=True):
    support = int(rng.integers(1, 15))
    return Spot(x_px=x, y_px=y, radius_px=radius, is_bright=is_bright, support=support)


@pytest.mark.parametrize("seed", range(tries(40)))
def test_the_poses_are_those_of_one_pair_of_spots_after_another(seed):
    layout, spots = scattered(seed)
    quick, plain = possible_poses(spots, layout), plain_poses(spots, layout)
    # The plain scale is a difference of places. Of poses through as many discs as a view has
    # freedom the misfit is nothing but rounding.
    misfits = [one.misfit for one in plain]
    assert [one.misfit for one in quick] == pytest.approx(misfits, rel=1e-5, abs=1e-9)
    known = {(one.found, one.is_mirrored, one.is_bright): one for one in plain}
    assert len(known) == len(quick)
    for one in quick:
        other = known[one.found, one.is_mirrored, one.is_bright]
        assert one.matrix == pytest.approx(other.matrix, rel=1e-9, abs=1e-9)
        assert one.misfit == pytest.approx(other.misfit, rel=1e-5, abs=1e-9)


def test_a_slope_of_a_view_is_the_difference_of_two_places_near_each_other():
    view = np.array([[30, -4, 700], [5, -28, 900], [2e-4, -3e-4, 1.0]])
    at, step = np.array([[3.0, 4.0], [40.0, 25.0]]), 1e-5
    for k, side in enumerate(step * np.eye(2)):
        difference = (apply(view, at + side) - apply(view, at - side)) / (2 * step)
        assert local_scale(view, at)[:, :, k] == pytest.approx(difference, rel=1e-7)


# --- pieces -----------------------------------------------------------------------------------


def plain_score(seen, level, weight, floor):
    """Weighted correlation of openings with a part of a scan as large."""
    w = weight / weight.sum()
    spread = (level**2 / np.maximum(weight, 1e-6)).sum() / weight.sum() - (
        level.sum() / weight.sum()
    ) ** 2
    cross = (seen * level).sum() / weight.sum() - level.sum() / weight.sum() * (w * seen).sum()
    varied = max((w * seen**2).sum() - (w * seen).sum() ** 2, floor)
    return cross / np.sqrt(spread * varied)


def test_one_transform_serves_openings_turned_over_and_by_half_a_turn():
    """Against the pictures themselves, shifted by hand; a warp takes places in 32nds of a px."""
    small = pose._shrunk(
        render_piece(OPENING, Look(dpi=300, rotation_deg=20)).astype(np.float32), 2.0
    )
    model = pose._model(OPENING, 60)
    waves = pose._waves(small, model)
    level = pose._blurred(small.level)
    seen = np.pad(level - np.median(level), waves.pad)
    rng = np.random.default_rng(4)
    for turn in np.radians([0.0, 8.0, 100.0]):
        turned = pose._turned(waves, model, turn)
        for way in pose._WAYS:
            scores = pose._scores(waves, turned, way)
            lie, whole = pose._best_shift(waves, model, turned, way, np.eye(3))
            assert lie.score == np.abs(scores).max()
            place = pose._place(model, whole, way.is_over, waves.side)[:2]
            pictures = [
                cv2.warpAffine(one, place, (waves.side, waves.side)).astype(float)
                for one in (model.level * model.weight, model.weight)
            ]
            for row, column in rng.integers([0, 0], scores.shape, (6, 2)):
                part = seen[row : row + waves.side, column : column + waves.side]
                plain = plain_score(part, *pictures, waves.floor)
                assert scores[row, column] == pytest.approx(plain, abs=0.01)


# --- renderers --------------------------------------------------------------------------------


@pytest.mark.parametrize("tilt", [(0.0, 0.0), (0.2, -0.15)])
def test_pixels_that_no_outline_crosses_need_no_points(monkeypatch, tilt):
    coupon = scan_renderer.clearing_coupon(repeats=1)
    truth, look = Truth(roughness_mm=0.002), Look(dpi=300, rotation_deg=7, tilt=tilt)
    quick = render(coupon, truth, look)
    monkeypatch.setattr(scan_renderer, "_REACH_PX", np.inf)
    monkeypatch.setattr(scan_renderer, "_REACH_IN_PERSPECTIVE_PX", np.inf)
    np.testing.assert_array_equal(quick, render(coupon, truth, look))


def test_what_is_drawn_has_the_areas_of_its_shapes():
    """A slot of b x l, a disc of pi r^2, a piece: to 5 % of a pixel along its edge, and 0.2 %."""
    bare = Look(dpi=600, rotation_deg=11, paint=0, cleared=255, around=0, blur_px=0, noise=0)
    pixel_mm = 25.4 / bare.dpi
    coupon = scan_renderer.etch_coupon()
    only = {**coupon, "marks": coupon["marks"][:1], "slots": coupon["slots"][4:5]}
    seen = render(only, Truth(), bare).sum() / 255 * pixel_mm**2
    assert seen == pytest.approx(
        np.pi + 10 * only["slots"][0]["opening_mm"], abs=0.05 * pixel_mm * 27
    )
    seen = render_piece(OPENING, bare).sum() / 255 * pixel_mm**2
    assert seen == pytest.approx(OPENING.area, abs=0.002 * pixel_mm * OPENING.length)


# --- widths and edges -------------------------------------------------------------------------


def strip_of(seed):
    """Cells across a line of uneven sections, some of them empty, some under dust."""
    rng = np.random.default_rng(seed)
    sections, bins = int(rng.integers(4, 16)), int(rng.integers(14, 60))
    section = np.repeat(np.arange(sections), bins)
    across = np.tile(np.linspace(-0.4, 0.4, bins), sections) + rng.uniform(0, 0.01, len(section))
    along = section * 0.5 - sections / 4 + rng.uniform(0, 0.5, len(section))
    known = EdgeProfile(
        blur_mm=rng.uniform(0.015, 0.06), pixel_mm=0.0423, contrast=0.0, contrast_sd=0.0
    )
    width, centre, contrast = rng.uniform(0.0, 0.25), rng.normal(0, 0.01), rng.choice([-90, 150])
    x = across - centre - 0.002 * along
    share = edge_spread(x + width / 2, known.blur_mm, known.pixel_mm)[0]
    share = share - edge_spread(x - width / 2, known.blur_mm, known.pixel_mm)[0]
    level = 60 + 20 * across + contrast * share + rng.normal(0, 1.5, len(section))
    level[rng.random(len(section)) < 0.03] = 15
    kept = rng.random(len(section)) < np.where(section == 1, 0.1, 0.97)
    strip = Strip(
        section=section[kept],
        along_mm=along[kept],
        across_mm=across[kept],
        level=level[kept],
        count=rng.integers(1, 9, int(kept.sum())).astype(float),
        pixel_sd=1.5,
        sections=sections,
        length_mm=0.5 * sections,
    )
    whole = StripFit(
        width_mm=0.0 if seed % 5 == 0 else width + rng.normal(0, 0.01),
        width_sd_mm=0.001,
        centre_mm=centre + 0.003,
        tilt=0.002,
        ground=62.0,
        contrast=float(contrast),
        contrast_sd=1.0,
        misfit=rng.uniform(0.8, 1.4),
        off_share=0.0,
    )
    return strip, known, whole


def plain_widths(strip, known, whole):
    """One section after another, by the fit of a whole strip with what is known held."""
    widths = np.full(strip.sections, np.nan)
    scale = max(strip.pixel_sd * max(whole.misfit, 1.0), 0.3)
    for k in range(strip.sections):
        mine = strip.section == k
        if mine.sum() < 12:
            continue
        across = strip.across_mm[mine] - whole.tilt * strip.along_mm[mine]
        level = strip.level[mine]
        ground = np.median(level) if abs(whole.width_mm) < 1e-3 else whole.ground
        start = np.array([whole.width_mm, whole.centre_mm, 0, ground, 0, 0, whole.contrast])
        held = np.array([np.inf, 0.01, 1e-12, np.inf, np.inf, 1e-12, 1e-9])
        data = np.column_stack([across, np.zeros(len(across))])
        solved = _solve(data, level, strip.count[mine], scale, known, start, held)
        if solved is not None:
            widths[k] = solved[0][0]
    return widths


@pytest.mark.parametrize("seed", range(tries(24)))
def test_sections_are_as_wide_as_one_fit_after_another_has_them(seed):
    strip, known, whole = strip_of(seed)
    wide = fit_sections(strip, known, whole)
    assert np.isfinite(wide).sum() >= strip.sections // 2
    # A nanometre.
    np.testing.assert_allclose(wide, plain_widths(strip, known, whole), rtol=0, atol=1e-6)


def test_the_slopes_of_a_blurred_edge_are_those_of_its_differences():
    off, angle = np.random.default_rng(1).uniform([[-5], [0]], [[5], [6]], (2, 200))
    chosen, step = np.array([0.3, 0.2, -0.1, 0.4]), 1e-5
    turn = np.cos(2 * angle), np.sin(2 * angle)
    slopes = _edge_slopes(chosen, off, *turn)
    for k, side in enumerate(step * np.eye(4)):
        higher, lower = (_edge_share(chosen + way * side, off, *turn) for way in (1, -1))
        assert slopes[:, k] == pytest.approx((higher - lower) / (2 * step), abs=1e-8)
