"""When to look, measure and lift, and how deep the slow and the fast etch are by then."""

import pytest

from stopout.etching.schedule import check_schedule


def test_a_check_gives_the_depth_of_the_slow_and_of_the_fast_etch():
    checks = check_schedule(depth_mm=0.06, time_s=1000.0, rate_ratio_low=0.5, rate_ratio_high=1.5)
    (measure,) = (check for check in checks if check.what == "measure")
    assert measure.time_s == pytest.approx(800.0)
    depths = (measure.depth_low_mm, measure.depth_mm, measure.depth_high_mm)
    assert depths == pytest.approx((0.024, 0.048, 0.072))
