"""Scans whose truth is known, by our own renderer, read back: place, widths, spot, threshold."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from coupons.scan_renderer import Look, Truth, clearing_coupon, etch_coupon, render, to_image
from stopout.coupons import layout_from_dict
from stopout.errors import CouponError
from stopout.scans.reading.whole import read_coupon, spacing_that_clears_mm
from stopout.scans.registering.coupon import register

TRUTH = Truth(width_sd_mm=0.002, roughness_mm=0.001)
SMALL = clearing_coupon(repeats=1, symmetric=True)


def seen(coupon, truth, look, **more):
    return render(coupon, truth, look, **more).astype(np.float32)


def read(coupon, truth, look, **more):
    image = seen(coupon, truth, look)
    return read_coupon(
        [("luma", image)], layout_from_dict(coupon), stated_dpi=look.dpi, tone="plain", **more
    )


@cache
def plainly_read():
    """At 600 dpi, 0.4 % larger than that has it."""
    return read(SMALL, Truth(), Look(dpi=600, scale=1.004, rotation_deg=3))


def fits_of(reading):
    return {fit.axis: fit for fit in reading.axes}


# --- where it lies ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "look",
    [
        Look(dpi=300, quarter_turns=0, rotation_deg=8),
        Look(dpi=300, quarter_turns=1),
        Look(dpi=300, quarter_turns=2, rotation_deg=-8, cleared=40, paint=190),
        Look(dpi=300, quarter_turns=3, tilt=(0.2, -0.15), uneven=0.2),
        Look(dpi=300, is_mirrored=True, rotation_deg=4),
    ],
    ids=["turned", "quarter", "upside-down-dark", "photographed", "mirrored"],
)
def test_four_equal_discs_in_a_rectangle_are_enough_whichever_way_it_lies(look):
    """The lines' own pattern decides what the discs leave open."""
    place = register(seen(SMALL, Truth(), look), layout_from_dict(SMALL))
    truth, _ = to_image(SMALL, look)
    grid = np.array([[x, y] for x in (2.0, 20.0, 46.0) for y in (2.0, 15.0, 30.0)])
    wanted = np.column_stack([grid, np.ones(9)]) @ truth.T
    off = place.to_px(grid) - wanted[:, :2] / wanted[:, 2:]
    assert np.abs(off).max() < 0.12
    assert place.is_mirrored is look.is_mirrored
    assert place.is_bright is (look.cleared > look.paint)


def test_the_scale_is_right_to_a_thousandth_and_a_stretch_is_told():
    reading = plainly_read()
    assert reading.scale_error == pytest.approx(0.004, abs=0.0005)
    assert any("0.40 % larger" in caution for caution in reading.cautions)


# --- what it tells ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("look", "spot", "threshold"),
    [
        (Look(dpi=1200, rotation_deg=-8, uneven=0.2, dust=60, blur_px=1.5), 0.03, 0.04),
        (Look(dpi=600, quarter_turns=1, cleared=60, paint=210, noise=4), 0.06, 0.08),
    ],
    ids=["1200", "600-straight"],
)
def test_spot_and_threshold_come_back(look, spot, threshold):
    coupon = clearing_coupon(symmetric=True) if look.dpi == 600 else SMALL
    reading = read(coupon, TRUTH, look)
    for axis, fit in fits_of(reading).items():
        w = TRUTH.radius_mm[axis]
        assert fit.spot_mm.value == pytest.approx(2 * w, rel=spot)
        assert fit.threshold_j_per_mm.value == pytest.approx(
            TRUTH.threshold_j_per_mm[axis], rel=threshold
        )
        assert {"not cleared"} & {why for _, why in fit.left_out}


def test_the_fine_lines_are_not_read_too_wide():
    """A half-level threshold reads lines narrower than the blur as wide as the blur."""
    for line in plainly_read().measured.lines:
        ratio = line.line_dose_j_per_mm / Truth().threshold_j_per_mm[line.axis]
        true = Truth().radius_mm[line.axis] * np.sqrt(2 * np.log(max(ratio, 1)))
        assert line.is_cleared == bool(true > 0)
        if true:
            assert line.width_mm == pytest.approx(true, abs=0.0025)


def test_the_undercut_comes_back_to_4_um_at_1200_dpi():
    truth = Truth(undercut_mm=0.06, width_sd_mm=0.002)
    coupon = etch_coupon()
    reading = read(coupon, truth, Look(rotation_deg=-4, cleared=70, paint=200, uneven=0.15))
    assert reading.etch.undercut_mm.value == pytest.approx(0.06, abs=0.001)
    assert reading.axes == ()


def test_patches_show_the_widest_spacing_that_clears():
    """Lines 0.12 mm wide: 0.08 and 0.10 mm close; 0.14 and 0.16 leave 1 - 0.12/p of the paint."""
    assert Truth().fill_width_mm == 0.12
    reading = plainly_read()
    left = {patch.spacing_mm: patch.left_fraction for patch in reading.measured.patches}
    assert left[0.08] < 0.01
    assert left[0.14] == pytest.approx(1 - 0.12 / 0.14, abs=0.03)
    assert left[0.16] == pytest.approx(1 - 0.12 / 0.16, abs=0.03)
    assert spacing_that_clears_mm(reading.measured, "x") in (0.08, 0.10)
    assert spacing_that_clears_mm(reading.measured, "y") is None, "it has no lines along y"


def test_a_late_beam_and_play_are_told_apart_by_two_combs():
    """Teeth shifted along their travel by v x 0.4 ms - 0.03 mm / 2, at 50 and 100 mm/s.

    A head that follows its command behind half the play marks that much before its place.
    """
    coupon = clearing_coupon(repeats=1)
    coupon["combs"] = []
    dashes = []
    for k, speed in enumerate((50.0, 100.0)):
        shift = speed * 0.4e-3 - 0.015
        teeth = []
        for j in range(8):
            y = 25.0 + 0.5 * j
            ends = [36.0 + 5 * k, y], [39.0 + 5 * k, y]
            way = 1.0 if j % 2 == 0 else -1.0
            teeth.append({"from_mm": ends[0 if way > 0 else 1], "to_mm": ends[1 if way > 0 else 0]})
            dashes.append([[end[0] + way * shift, end[1]] for end in ends])
        coupon["combs"].append(
            {"id": f"c{k}", "axis": "x", "speed_mm_s": speed, "power_fraction": 0.2, "teeth": teeth}
        )
    # The renderer knows no combs; to it they are lines of a dose that clears 0.12 mm.
    drawn = {**coupon, "combs": [], "patches": [], "lines": list(coupon["lines"])}
    for a, b in dashes:
        drawn["lines"].append({"from_mm": a, "to_mm": b, "line_dose_j_per_mm": 0.1, "id": ""})
    coupon["patches"] = []
    image = seen(drawn, Truth(), Look(dpi=600, rotation_deg=2))
    reading = read_coupon(
        [("luma", image)], layout_from_dict(coupon), stated_dpi=600.0, tone="plain"
    )
    (timing,) = reading.timing
    assert timing.delay_ms.value == pytest.approx(0.4, abs=0.03)
    assert timing.play_mm.value == pytest.approx(0.03, abs=0.004)


# --- what is refused --------------------------------------------------------------------------


def refusal(coupon, look, *, change=lambda image: image, **more):
    image = change(seen(coupon, Truth(), look, **more))
    with pytest.raises(CouponError) as caught:
        read_coupon([("luma", image)], layout_from_dict(coupon), stated_dpi=look.dpi, tone="plain")
    return str(caught.value)


LOW = Look(dpi=300, rotation_deg=2)


def test_a_dark_scan_is_refused():
    assert "too dark" in refusal(SMALL, LOW, change=lambda image: image * 0.06)


def test_a_blurred_scan_is_refused_with_the_remedy():
    words = refusal(SMALL, Look(dpi=600, rotation_deg=2, blur_px=7))
    assert "blurred" in words
    assert "1200 dpi" in words


def test_a_cropped_scan_is_refused_and_says_what_is_missing():
    words = refusal(SMALL, LOW, box_px=(0, 0, 530, 460))
    assert "cropped" in words
    assert "beyond its edge" in words


def test_the_scan_of_another_coupon_is_refused():
    image = seen(etch_coupon(), Truth(undercut_mm=0.05), LOW)
    with pytest.raises(CouponError, match=r"disc|lines"):
        read_coupon([("luma", image)], layout_from_dict(SMALL), stated_dpi=300.0)


def test_a_coupon_with_the_same_discs_but_other_lines_is_refused():
    bare = {**SMALL, "lines": [], "patches": [], "other": []}
    image = seen(bare, Truth(), LOW)
    with pytest.raises(CouponError, match="lines are not where"):
        read_coupon([("luma", image)], layout_from_dict(SMALL), stated_dpi=300.0)


def test_glare_over_the_lines_is_refused():
    def glare(image):
        y, x = np.mgrid[: image.shape[0], : image.shape[1]]
        spot = np.exp(-(((x - 360) / 150.0) ** 6 + ((y - 380) / 280.0) ** 6))
        return np.minimum(image + 240 * spot, 255).astype(np.float32)

    words = refusal(SMALL, Look(dpi=600), change=glare)
    assert "glare" in words or "lines" in words


def test_noise_alone_is_no_coupon():
    noise = np.random.default_rng(0).normal(128, 20, (400, 600)).astype(np.float32)
    with pytest.raises(CouponError, match="discs were not all found"):
        read_coupon([("luma", noise)], layout_from_dict(SMALL), stated_dpi=300.0)


def test_a_disc_under_a_label_is_missed_but_read_around():
    coupon = clearing_coupon(repeats=1)

    def cover(image):
        x, y = (to_image(coupon, Look(dpi=600))[0] @ [2.5, 2.5, 1])[:2]
        image[int(y) - 40 : int(y) + 40, int(x) - 40 : int(x) + 10] = 120
        return image

    image = cover(seen(coupon, Truth(), Look(dpi=600)))
    reading = read_coupon(
        [("luma", image)], layout_from_dict(coupon), stated_dpi=600.0, tone="plain"
    )
    assert any("1 of 5 discs" in caution for caution in reading.cautions)
    for axis, fit in fits_of(reading).items():
        assert fit.spot_mm.value == pytest.approx(2 * Truth().radius_mm[axis], rel=0.03)
