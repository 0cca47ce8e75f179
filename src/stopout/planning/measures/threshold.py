"""What a line's dose is to the dose that clears: how many times threshold, and how sure."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from stopout.clearing.beam.dose import peak_dose_j_per_mm2
from stopout.etching import Resist
from stopout.job.record import Coat, Job
from stopout.planning.knowledge import Knowledge
from stopout.planning.measures.beam import Beam, spot_radius_mm
from stopout.planning.plan import CoatPlan
from stopout.values import Span

# At e^2 times the threshold a line is as wide as the spot's 1/e^2 width: beyond it wings and heat
# decide, and paint chars beside the line (common practice, no source).
SCORCH_RATIO = math.exp(2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A dose held against the range in which paints are known to clear.

    Attributes
    ----------
    threshold : Span
        Of the coat, in J/mm^2.
    dose_j_per_mm2 : float
        In the middle of a line across the spot's wider axis, all passes together.
    ratios : (float, float)
        That dose over the high and over the low end of the threshold.
    implied_j_per_mm2 : float
        The threshold that the job's mark or dose ratio makes of this dose.
    """

    threshold: Span
    dose_j_per_mm2: float
    ratios: tuple[float, float]
    implied_j_per_mm2: float

    @property
    def factor_off(self) -> float:
        """How many times beyond the nearer end the implied threshold lies; 1 within the range."""
        low, high = self.threshold.low, self.threshold.high
        return max(low / self.implied_j_per_mm2, self.implied_j_per_mm2 / high, 1.0)


def area_threshold(coat: Coat, resist: Resist, per_volume: Span) -> Span:
    """The threshold of a coat per area [J/mm^2], from that per volume and the coat's thickness.

    Parameters
    ----------
    coat : Coat
        Its thickness, where the job gives one.
    resist : Resist
        Its thickness, where the job gives none.
    per_volume : Span
        In J/mm3.
    """
    thick = 1e-3 * resist.film_um(coat.thickness_um)
    return replace(
        per_volume,
        value=thick * per_volume.value,
        low=thick * per_volume.low,
        high=thick * per_volume.high,
        unit="J/mm^2",
    )


def threshold_of(coat: CoatPlan, knowledge: Knowledge) -> Span | None:
    """The published threshold of a planned coat [J/mm^2]; None where nothing is known."""
    if not knowledge.thresholds:
        return None
    k = coat.number - 1
    return area_threshold(coat.coat, knowledge.resists[k], knowledge.thresholds[k])


def held_against(threshold: Span, beam: Beam, job: Job) -> Held:
    """Hold a coat's dose against the published range of its threshold.

    Parameters
    ----------
    threshold : Span
        Of the coat, J/mm^2.
    beam : Beam
        The coat's settings.
    job : Job
        For the spot and the full power.
    """
    radius = spot_radius_mm(job)
    wide = 0 if radius[0] >= radius[1] else 1
    dose = peak_dose_j_per_mm2(beam.line_dose_fraction * job.laser.power_w, radius[wide])
    return Held(
        threshold=threshold,
        dose_j_per_mm2=dose,
        ratios=(dose / threshold.high, dose / threshold.low),
        implied_j_per_mm2=dose / beam.dose_ratios[wide],
    )
