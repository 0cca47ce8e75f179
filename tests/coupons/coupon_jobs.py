"""Coupons made in code for the tests: the winch plate's machine on small blanks."""

from __future__ import annotations

from functools import cache

from jobmaker import make_job, plate
from stopout.coupons.design import Settings
from stopout.library.knowledge import knowledge_for
from stopout.planning.coupon.road import coupon_job, plan_coupon

SETTINGS = Settings(
    mark_mm=(0.10, 0.07),
    radius_mm=(0.085, 0.060),
    dose_ratio=(2.0, 1.975),
    power_w=5.5,
    power_fraction=0.3,
    speed_mm_s=20.0,
    top_speed_mm_s=100.0,
    step_mm=0.0125,
    spacing_mm=(0.05, 0.075),
    undercut_mm=0.06,
)


def coupon(kind, size=(36.0, 32.0), **changes):
    """A coupon for the job of a plain plate, or of another."""
    wanted = coupon_job(make_job(**{"blank": plate(size), **changes}), kind)
    return plan_coupon(kind, wanted, knowledge_for(wanted))


@cache
def small(kind):
    """One small coupon of each kind, made once."""
    return coupon(kind)
