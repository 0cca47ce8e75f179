"""Undercut and etch factor from slots, and depth over width, against made data."""

from __future__ import annotations

import numpy as np
import pytest

from stopout.errors import CouponError
from stopout.scans.fitting.common import CommonError
from stopout.scans.fitting.etch import fit_depths, fit_etch
from stopout.scans.measuring.features import SlotReading
from stopout.values import Measured

OPENINGS = (0.1, 0.15, 0.2, 0.3, 0.4, 0.6, 0.8, 1.0)


def slots(undercut, *, sd=0.0, seed=0, openings=OPENINGS, grow=0.0):
    rng = np.random.default_rng(seed)
    return [
        SlotReading(
            id=f"{axis}{k}",
            axis=axis,
            opening_mm=opening,
            width_mm=opening + 2 * (undercut + grow * opening) + sd * rng.standard_normal(),
            width_sd_mm=0.0003,
        )
        for k, opening in enumerate(openings)
        for axis in ("x", "y")
    ]


@pytest.mark.parametrize(("factor", "undercut"), [(1.0, 0.150), (1.5, 0.100), (3.0, 0.050)])
def test_depth_over_undercut_is_the_etch_factor(factor, undercut):
    """Depth 0.15 mm, etch factor 1 / 1.5 / 3: undercut 0.150 / 0.100 / 0.050 mm an edge."""
    fit = fit_etch(slots(undercut), depth=Measured(value=0.15, sd=0.003))
    assert fit.undercut_mm.value == pytest.approx(undercut, abs=1e-9)
    assert fit.etch_factor.value == pytest.approx(factor, abs=1e-9)
    assert fit.etch_factor.sd == pytest.approx(factor * 0.02, rel=0.02)


def test_the_error_is_the_scatter_of_the_slots():
    held = []
    for seed in range(300):
        fit = fit_etch(slots(0.06, sd=0.004, seed=seed))
        low, high = fit.interval(fit.undercut_mm)
        held.append(low <= 0.06 <= high)
    assert 0.90 <= np.mean(held) <= 0.98


def test_half_of_what_all_widths_have_in_common_is_in_the_error_of_the_undercut():
    """W = opening + 2 u: a shift of every width by s shifts u by s / 2; errors add by squares."""
    plain = fit_etch(slots(0.06))
    names = [slot.id for slot in slots(0.06)]
    common = [
        CommonError(name=name, shift_mm=dict.fromkeys(names, shift))
        for name, shift in (("scale", 0.006), ("edge", 0.008))
    ]
    fit = fit_etch(slots(0.06), common=common, depth=Measured(value=0.06))
    assert fit.undercut_mm.sd**2 - plain.undercut_mm.sd**2 == pytest.approx(0.005**2)
    assert fit.etch_factor.sd == pytest.approx(fit.undercut_mm.sd / 0.06, rel=1e-6)


def test_without_a_depth_there_is_no_etch_factor():
    assert fit_etch(slots(0.06)).etch_factor is None


def test_a_slot_far_off_the_others_is_left_out_by_name():
    spoilt = slots(0.06, sd=0.002)
    spoilt[4] = SlotReading(id="x2", axis="x", opening_mm=0.2, width_mm=0.45, width_sd_mm=0.0003)
    fit = fit_etch(spoilt)
    assert [name for name, _ in fit.left_out] == ["x2"]
    assert fit.undercut_mm.value == pytest.approx(0.06, abs=0.002)


def test_an_undercut_that_changes_with_the_width_is_cautioned():
    fit = fit_etch(slots(0.05, sd=0.001, grow=0.02))
    assert fit.change_per_mm.value == pytest.approx(0.02, abs=0.003)
    assert any("not the same at all widths" in caution for caution in fit.cautions)


def test_slots_that_did_not_widen_are_refused():
    with pytest.raises(CouponError, match="did not widen"):
        fit_etch(slots(0.0, sd=0.002))


def test_two_slots_are_too_few():
    with pytest.raises(CouponError, match="3 are needed"):
        fit_etch(slots(0.05)[:2])


def test_depths_that_fall_in_narrow_openings_are_fitted():
    """Made by d = 0.080 / (1 + 0.05 / W)."""
    widths = np.array([0.1, 0.2, 0.4, 0.8, 1.6, 3.0])
    rng = np.random.default_rng(2)
    depths = 0.080 / (1 + 0.05 / widths) + 0.0005 * rng.standard_normal(6)
    fit = fit_depths(widths.tolist(), depths.tolist())
    assert fit.wide_mm.value == pytest.approx(0.080, abs=0.001)
    assert fit.half_width_mm.value == pytest.approx(0.05, abs=0.004)
    assert fit.depth_mm(0.05) == pytest.approx(0.040, abs=0.0015)


def test_depths_that_only_scatter_give_their_mean():
    fit = fit_depths([0.2, 0.5, 1.0, 2.0], [0.061, 0.059, 0.060, 0.061])
    assert fit.half_width_mm.value == 0
    assert fit.wide_mm.value == pytest.approx(0.06025, abs=1e-9)
