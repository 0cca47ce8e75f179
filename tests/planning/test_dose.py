"""The dose held against the threshold: what is doubted, what stops, what is chosen."""

from __future__ import annotations

import math

import pytest
import shapely

from jobmaker import codes, make_job, mark, plan
from stopout.clearing.beam.dose import peak_dose_j_per_mm2, threshold_line_dose_j_per_mm
from stopout.library.knowledge import knowledge_for
from stopout.planning.book.dose import with_dose
from stopout.values import Level

SQUARE = shapely.box(3, 3, 8, 7)


def test_the_dose_in_the_middle_of_a_line_is_that_of_the_worked_example():
    # 5.5 W at 50 mm/s, w = 0.06 mm: sqrt(2/pi) 0.11 / 0.06, by hand 0.797885 x 1.83333.
    assert peak_dose_j_per_mm2(5.5 / 50, 0.06) == pytest.approx(1.462788, abs=1e-6)
    # And back: w = 0.060 mm and 0.020 J/mm make 0.26596 J/mm2.
    assert threshold_line_dose_j_per_mm(0.26596, 0.06) == pytest.approx(0.02, rel=1e-4)


@pytest.mark.parametrize(
    ("power_w", "share", "speed", "code", "level"),
    [
        # 25 um of dark paint: 0.083 to 1.65 J/mm2. Spot 0.17 mm round, mark 0.10 mm: r = 2.0.
        (5.5, 0.3, 20.0, "dose-range", Level.NOTE),  # implies 0.39 J/mm2
        (5.5, 1.0, 90.0, "dose-range", Level.NOTE),  # 0.29
        (40.0, 0.3, 20.0, "dose-doubtful", Level.CAUTION),  # 2.8, 1.7 times the high end
        (40.0, 1.0, 20.0, "dose-implausible", Level.STOP),  # 9.4, 5.7 times
        (0.05, 1.0, 50.0, "dose-implausible", Level.STOP),  # 0.0047, a seventeenth of the low end
    ],
)
def test_a_dose_far_from_what_paints_take_is_doubted_and_farther_stops(
    power_w, share, speed, code, level
):
    made = plan(
        SQUARE,
        machine={"power_w": power_w},
        clearing={"power": share, "speed_mm_s": speed, "mark_mm": mark(0.10)},
    )
    (found,) = [f for f in made.findings if f.code.startswith("dose-") and f.code != "dose-uneven"]
    assert (found.code, found.level) == (code, level)
    # What is said is F0 over the two ends, whatever the mark claims.
    dose = math.sqrt(2 / math.pi) * power_w * share / speed / 0.085
    assert float(found.message.split(" J/mm^2")[0].split()[-1]) == pytest.approx(dose, rel=0.05)
    assert made.is_stopped == (level is Level.STOP)


def test_power_and_speed_left_to_the_plan_give_twice_the_threshold():
    job = make_job(
        clearing={"mark_mm": None, "choose_power": True, "choose_speed": True, "power": 1.0}
    )
    chosen = with_dose(job, knowledge_for(job))
    # 15 J/mm3 on 25 um: 0.375 J/mm2, times sqrt(pi/2) 0.085 mm: 0.03995 J/mm.
    dose = job.laser.power_w * chosen.settings.power / chosen.settings.speed_mm_s
    assert dose == pytest.approx(2 * 0.03995, rel=0.01)
    assert chosen.settings.speed_mm_s <= job.laser.top_speed_mm_s / 2
    made = plan(SQUARE, job=job)
    assert made.verdict.unmeasured
    assert "coupon-needed" in codes(made)
