"""The reader's quick ways against plain ones: poses, widths of sections, slopes of an edge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from coupons.plain_poses import plain_poses
from effort import tries
from stopout.coupons.layout import CouponLayout, RegistrationMark
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
    for _ in range(int(rng.integers(0, 30))):
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
    assert np.isfinite(wide).sum() >= strip.sections - 1
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
