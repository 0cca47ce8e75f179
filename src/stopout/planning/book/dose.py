"""Power and speed where a job leaves them to the plan: twice the dose that just clears.

The threshold line dose of a Gaussian beam is sqrt(pi/2) w F (see `stopout.clearing.beam.dose`), F
being the threshold of the paint per area: that per volume of coat times the coat's thickness. Where
a coupon has told a threshold, `stopout.planning.book.numbers` has chosen by it already.
"""

from __future__ import annotations

from dataclasses import replace

from stopout.clearing.beam.dose import DEFAULT_DOSE_RATIO, threshold_line_dose_j_per_mm
from stopout.job.record import Clearing, Coat, Job
from stopout.planning.knowledge import Knowledge
from stopout.planning.measures.beam import spot_radius_mm
from stopout.planning.measures.threshold import area_threshold
from stopout.units import rounded_down
from stopout.values import Machine

# Lines of a fill are hardly ever so long that the top speed pays; half of it also leaves room for
# a second speed on coupons. Ours.
_SPEED_SHARE = 0.5


def with_dose(job: Job, knowledge: Knowledge) -> Job:
    """Return the job with a power and a speed for each coat where it leaves them to the plan.

    Parameters
    ----------
    job : Job
        With the shop book's numbers, where there is a book.
    knowledge : Knowledge
        With the published thresholds of its paints.
    """
    if not (job.route.clears_paint and job.settings.is_chosen and knowledge.thresholds):
        return job
    coats = tuple(_chosen(k, coat, job, knowledge) for k, coat in enumerate(job.coats))
    first = coats[0]
    power, speed = first.power, first.speed_mm_s
    assert power is not None
    assert speed is not None
    return replace(job, coats=coats, clearing=replace(job.settings, power=power, speed_mm_s=speed))


def chosen_dose(
    line_dose_j_per_mm: float,
    settings: Clearing,
    machine: Machine,
    *,
    speed_mm_s: float | None = None,
) -> tuple[float, float]:
    """Power, as a fraction of full power, and speed that give a line dose, or come nearest to it.

    Parameters
    ----------
    line_dose_j_per_mm : float
        Of one pass.
    settings : Clearing
        What the job itself says of power or speed stays.
    machine : Machine
        Its full power and top speed.
    speed_mm_s : float, optional
        The speed to keep to where the job gives none.

    Returns
    -------
    (float, float)
        Both to three digits, so that the sheet can print what is set.
    """
    full, dose = machine.power_w, line_dose_j_per_mm
    if settings.choose_speed:
        power = 1.0 if settings.choose_power else settings.power
        most = speed_mm_s or (_SPEED_SHARE if settings.choose_power else 1.0) * (
            machine.top_speed_mm_s
        )
        speed = rounded_down(min(most, power * full / dose))
    else:
        speed = settings.speed_mm_s
    power = dose * speed / full if settings.choose_power else settings.power
    return rounded_down(min(1.0, max(power, 1e-3))), speed


def _chosen(k: int, coat: Coat, job: Job, knowledge: Knowledge) -> Coat:
    if coat.power is not None and coat.speed_mm_s is not None:
        return coat
    threshold = area_threshold(coat, knowledge.resists[k], knowledge.thresholds[k])
    ratio = job.settings.dose_ratio or DEFAULT_DOSE_RATIO
    dose = ratio * threshold_line_dose_j_per_mm(threshold.value, max(spot_radius_mm(job)))
    power, speed = chosen_dose(dose, job.settings, job.laser)
    return replace(coat, power=coat.power or power, speed_mm_s=coat.speed_mm_s or speed)
