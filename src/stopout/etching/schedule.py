"""When to look, when to measure, and how long is left: a plan's time is a guess until then."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stopout.errors import PlanError

# Shares of the time at which the etch is looked at and measured: common practice, no source.
LOOK, MEASURE = 0.5, 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A moment of the etch at which something is done: `look`, `measure` or `lift`.

    `time_s` is by the planned rate and `depth_mm` what is then to be expected; at the ends of
    the rate's range the depth lies between `depth_low_mm` and `depth_high_mm`.
    """

    what: str
    share: float
    time_s: float
    depth_mm: float
    depth_low_mm: float
    depth_high_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Remaining:
    """What a measured depth says: the rate so far, the time still to go, and its range."""

    rate_um_per_min: float
    remaining_s: float
    remaining_low_s: float
    remaining_high_s: float
    total_s: float


def check_schedule(
    *, depth_mm: float, time_s: float, rate_ratio_low: float, rate_ratio_high: float
) -> tuple[Check, ...]:
    """When to look (50 %), measure (80 %) and lift (100 % of the planned time).

    Parameters
    ----------
    depth_mm, time_s : float
        Planned depth [mm] and time [s].
    rate_ratio_low, rate_ratio_high : float
        Low and high end of the rate over the planned rate.

    Returns
    -------
    tuple of Check
        Where the high end of the rate would reach the depth by half the planned time, there is a
        look before: when that rate has reached half the depth.
    """
    moments = [("look", LOOK), ("measure", MEASURE)]
    if rate_ratio_high >= 1.0 / LOOK:
        # The fastest etch would be through by the usual first look.
        moments = [("look", LOOK / rate_ratio_high), *moments]
    return tuple(
        Check(
            what=what,
            share=share,
            time_s=share * time_s,
            depth_mm=share * depth_mm,
            depth_low_mm=share * rate_ratio_low * depth_mm,
            depth_high_mm=share * rate_ratio_high * depth_mm,
        )
        for what, share in (*moments, ("lift", 1.0))
    )


def remaining_time(
    *, depth_mm: float, measured_depth_mm: float, after_s: float, error_mm: float = 0.0
) -> Remaining:
    """How long is still to go, from a depth measured on the way.

    Parameters
    ----------
    depth_mm : float
        The depth wanted [mm].
    measured_depth_mm, after_s : float
        The depth measured [mm], and the time in the bath until then [s].
    error_mm : float
        By how much the measurement may be off [mm].

    Returns
    -------
    Remaining
        By the mean rate so far: time so far x (wanted - measured) / measured; 0 where the depth
        is reached. A bath that slows down takes a little longer: measure again.

    Raises
    ------
    PlanError
        If nothing has been etched, or no time has passed, or the error is as large as the depth.
    """
    for name, value in (("measured depth", measured_depth_mm), ("time so far", after_s)):
        if not (math.isfinite(value) and value > 0.0):
            raise PlanError(f"a {name} of {value:g} tells no rate; it must be above zero")
    if not 0.0 <= error_mm < measured_depth_mm:
        raise PlanError(
            f"a depth of {measured_depth_mm:g} mm with an error of {error_mm:g} mm tells no rate; "
            "etch on and measure again"
        )

    def left(measured_mm: float) -> float:
        return max(0.0, after_s * (depth_mm - measured_mm) / measured_mm)

    return Remaining(
        rate_um_per_min=60_000.0 * measured_depth_mm / after_s,
        remaining_s=left(measured_depth_mm),
        remaining_low_s=left(measured_depth_mm + error_mm),
        remaining_high_s=left(measured_depth_mm - error_mm),
        total_s=after_s + left(measured_depth_mm),
    )
