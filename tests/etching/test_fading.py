"""A mean in which old measurements fade, against closed forms and reference libraries."""

from __future__ import annotations

import math
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from stopout.etching import HALF_LIFE_DAYS, Observation, fading_mean

# How far two etches of one shop differ however well each is measured: our own choice.
BETWEEN_JOBS = 0.05


def seen(value, sd=0.1, date="2026-11-20"):
    return Observation(value=value, sd=sd, date=date)


def test_a_single_measurement_is_its_own_mean():
    mean = fading_mean([seen(2.3, 0.2)])
    assert mean.mean.value == pytest.approx(2.3, rel=1e-12)
    assert mean.mean.sd == pytest.approx(0.2, rel=1e-12)
    assert (mean.scatter, mean.effective) == (0.0, 1.0)


def test_of_measurements_of_one_day_and_one_relative_error_it_is_the_geometric_mean():
    values = [2.0, 2.2, 2.5, 2.1]
    mean = fading_mean([seen(v, 0.05 * v) for v in values])
    assert mean.mean.value == pytest.approx(statistics.geometric_mean(values), rel=1e-12)
    assert mean.effective == pytest.approx(4)
    # The scatter of the logarithms is then the sample standard deviation.
    logs = [math.log(v) for v in values]
    assert mean.scatter / mean.mean.value == pytest.approx(statistics.stdev(logs), rel=1e-12)


def test_after_a_half_life_a_measurement_counts_half():
    """Closed form: ln m = (ln a + 2 ln b) / 3 where a is one half-life older than b."""
    assert HALF_LIFE_DAYS == 90
    mean = fading_mean([seen(1.0, 0.1, "2026-01-01"), seen(2.0, 0.2, "2026-04-01")])
    assert mean.weights == pytest.approx([1 / 3, 2 / 3])
    assert mean.mean.value == pytest.approx(2 ** (2 / 3), rel=1e-12)
    assert mean.effective == pytest.approx(9 / 5)


def test_value_and_error_are_those_of_weighted_least_squares():
    """scipy's curve_fit of a constant: its value, and its error scaled by the residuals."""
    values, share = np.array([2.0, 2.3, 2.9, 2.2]), 0.02
    days = ["2026-11-20", "2026-10-21", "2026-09-21", "2026-05-20"]
    mean = fading_mean([seen(v, share * v, d) for v, d in zip(values, days, strict=True)])
    fades = 0.5 ** (np.array([0, 30, 60, 184]) / 90)
    sigma = np.sqrt((share**2 + BETWEEN_JOBS**2) / fades)
    assert math.log(mean.mean.value) == pytest.approx(constant(values, sigma)[0], rel=1e-7)
    # Of one day, with equal errors smaller than the scatter, the error is that of the fit.
    mean = fading_mean([seen(v, share * v) for v in values])
    assert mean.error / mean.mean.value == pytest.approx(
        constant(values, np.full(4, share))[1], rel=1e-6
    )


def constant(values, sigma):
    """Fit a constant to the logarithms: value and standard error."""
    fit, covariance = curve_fit(
        lambda x, c: c + 0 * x, np.arange(4.0), np.log(values), p0=[0.5], sigma=sigma
    )
    return fit[0], math.sqrt(covariance[0, 0])


def test_the_scatter_is_the_reliability_weighted_one_of_numpy():
    values = np.array([2.0, 2.3, 2.9])
    days = ["2026-11-20", "2026-08-22", "2026-05-24"]
    mean = fading_mean([seen(v, 0.05 * v, d) for v, d in zip(values, days, strict=True)])
    reference = np.cov(np.log(values), aweights=mean.weights)
    assert (mean.scatter / mean.mean.value) ** 2 == pytest.approx(float(reference), rel=1e-12)


def test_measurements_that_agree_better_than_their_errors_keep_their_errors():
    """Two equal values of relative error s: the mean's is s / sqrt 2, not nothing."""
    mean = fading_mean([seen(2.0, 0.1), seen(2.0, 0.1)])
    assert mean.error == pytest.approx(0.1 / math.sqrt(2))
    assert mean.scatter == pytest.approx(0.0, abs=1e-12)


def test_a_coupon_measured_very_well_does_not_outvote_the_jobs_for_ever():
    coupon = seen(1.0, 0.001, "2025-11-20")
    jobs = [seen(1.5, 0.075, f"2026-11-{day}") for day in (18, 19, 20)]
    assert fading_mean([coupon, *jobs]).mean.value > 1.4


@given(
    values=st.lists(st.floats(0.1, 10), min_size=1, max_size=6),
    ages=st.lists(st.integers(0, 700), min_size=6, max_size=6),
    shift=st.integers(-3000, 3000),
)
def test_it_hangs_on_ages_and_not_on_today_and_lies_among_the_values(values, ages, shift):
    day = np.datetime64("2026-01-01")

    def observed(offset):
        return [seen(v, 0.1 * v, str(day - a + offset)) for v, a in zip(values, ages, strict=False)]

    mean, later = fading_mean(observed(0)), fading_mean(observed(shift))
    assert mean.mean == later.mean
    assert min(values) * (1 - 1e-9) <= mean.mean.value <= max(values) * (1 + 1e-9)
    backwards = fading_mean(observed(0)[::-1])
    assert backwards.mean.value == pytest.approx(mean.mean.value, rel=1e-9)
    assert np.sum(mean.weights) == pytest.approx(1)


@pytest.mark.parametrize("wrong", [[], [seen(0.0)], [seen(1.0, 0.0)], [seen(-1.0)]])
def test_what_is_not_positive_is_refused(wrong):
    with pytest.raises(ValueError, match="measurement"):
        fading_mean(wrong)


def test_a_better_measurement_counts_for_more_by_its_own_error_and_the_shop_s_together():
    """1 / (0.02^2 + 0.05^2) to 1 / (0.1^2 + 0.05^2), that is 344.8 to 80."""
    mean = fading_mean([seen(1.0, 0.02), seen(1.1, 0.11)])
    assert mean.weights == pytest.approx([344.8276 / 424.8276, 80 / 424.8276], rel=1e-6)
