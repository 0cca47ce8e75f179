"""A mean of a shop's measurements in which old ones fade.

A bath, a paint, a laser drift; what was measured last says most about the next job.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stopout.values import FloatArray, Measured

# Our own choice, no source: a season. A record that is this much older than the newest one counts
# half as much.
HALF_LIFE_DAYS = 90.0
# How far two etches of one shop differ however well each is measured; only so that a coupon of
# many slots does not outvote the jobs for ever. Our own choice, no source.
_BETWEEN_JOBS = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One measurement of a positive quantity, with its standard deviation and its day."""

    value: float
    sd: float
    date: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Faded:
    """A faded mean.

    Attributes
    ----------
    mean : Measured
        Its `sd` is that to be expected of the next job: error of the mean and scatter together.
    error : float
        Standard error of the mean alone.
    scatter : float
        Weighted standard deviation between the measurements; 0 for a single one.
    weights : (n,) ndarray
        In the order of the measurements, their sum 1.
    effective : float
        How many equal measurements would carry as much.
    """

    mean: Measured
    error: float
    scatter: float
    weights: FloatArray
    effective: float


def fading_mean(
    observations: Sequence[Observation], *, half_life_days: float = HALF_LIFE_DAYS
) -> Faded:
    """Return the mean of positive measurements, weighted by their errors and faded by their age.

    Parameters
    ----------
    observations : sequence of Observation
        At least one; values and standard deviations above zero.
    half_life_days : float
        After which a measurement's weight is halved.

    Raises
    ------
    ValueError
        If there is none, or one is not positive.

    Notes
    -----
    Logarithms are averaged, y = ln x with s = sd / x, since rates and etch factors err by factors:
    w = 2^(-age / half-life) / (s^2 + 0.05^2), m = sum(w y) / sum(w), with errors propagated for
    independent measurements: var(m) = sum(w^2 s^2) / sum(w)^2, times chi^2/(n - 1) where that
    exceeds 1, the scale factor of the Particle Data Group ("Unconstrained averaging" in the
    introduction of the Review of Particle Physics; from memory). The scatter is the unbiased
    weighted one for reliability weights, sum(w (y - m)^2) / (sum(w) - sum(w^2)/sum(w)). Ages
    count back from the newest measurement and not from today, so that the same book gives the
    same plan on any day.
    """
    if not observations:
        raise ValueError("no measurement to take a mean of")
    value = np.array([o.value for o in observations], dtype=np.float64)
    sd = np.array([o.sd for o in observations], dtype=np.float64)
    if not (np.all(value > 0) and np.all(sd > 0)):
        raise ValueError("measurements and their standard deviations must be above zero")
    y, s = np.log(value), sd / value
    weight = 0.5 ** (_ages_days(observations) / half_life_days) / (s**2 + _BETWEEN_JOBS**2)
    weight /= weight.sum()
    mean = float(weight @ y)
    error = float(np.sqrt(weight**2 @ s**2)) * _scale_factor(y, s)
    scatter = _scatter(y, weight, mean)
    middle = float(np.exp(mean))
    return Faded(
        mean=Measured(value=middle, sd=middle * float(np.hypot(error, scatter))),
        error=middle * error,
        scatter=middle * scatter,
        weights=weight,
        effective=float(1 / (weight @ weight)),
    )


def _ages_days(observations: Sequence[Observation]) -> FloatArray:
    """Ages counted back from the newest."""
    days = np.array([o.date[:10] for o in observations], dtype="datetime64[D]")
    return np.asarray((days.max() - days).astype(np.float64))


def _scale_factor(y: FloatArray, s: FloatArray) -> float:
    """By how much the errors must be larger than stated for the values to agree; at least 1."""
    if len(y) < 2:
        return 1.0
    mean = float((y / s**2).sum() / (1 / s**2).sum())
    return max(1.0, float(np.sqrt((((y - mean) / s) ** 2).sum() / (len(y) - 1))))


def _scatter(y: FloatArray, weight: FloatArray, mean: float) -> float:
    left = 1.0 - float(weight @ weight)
    if len(y) < 2 or left <= 1e-12:
        return 0.0
    return float(np.sqrt(weight @ (y - mean) ** 2 / left))
