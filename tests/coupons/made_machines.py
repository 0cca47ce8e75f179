"""Made-up machines and paints, and the lines that they clear: the first coupon and the second.

Truth is drawn by seed, log-uniform within the ranges of the tables, the paints being those of the
resists table at thicknesses within its limits. Lines are as wide as a Gaussian beam makes them at
a threshold power a v + b, and are read with an error; nothing of the planner is used for that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from jobmaker import MACHINE, make_job, plate
from stopout.coupons.design_clearing import clearing_parts
from stopout.job.record import Clearing, Coat
from stopout.job.shop_numbers import ClearingCalibration, ShopNumbers, identity_of
from stopout.library.knowledge import knowledge_for
from stopout.planning.book.numbers import with_shop_book
from stopout.planning.coupon.road import coupon_settings
from stopout.scans.fitting.clearing import AxisFit, fit_both
from stopout.scans.measuring.features import LineReading
from stopout.tables import emitter_spans, load_resists, paint_threshold

# A line is read to 5 um (standard deviation), and none narrower than 12 um is seen.
READ_SD_MM, SEEN_MM = 0.002, 0.012
EMITTERS = ("blue-diode", "near-infrared", "carbon-dioxide", "violet-diode")


@dataclass(frozen=True, kw_only=True)
class Tried:
    """What became of one machine: levels dark and clear, and how far the spot was off."""

    seed: int
    brackets: bool
    three_clear: bool
    fits: tuple[bool, bool]
    first_off: float
    second_off: float


def tried(seed):
    """Burn the first and the second coupon on a made-up machine and paint."""
    rng = np.random.default_rng(seed)

    def within(low, high):
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    emitter = EMITTERS[seed % len(EMITTERS)]
    spans = emitter_spans(emitter)
    is_power_known = bool(rng.random() < 0.5)
    power = within(spans["power"].low, spans["power"].high)
    unknown = [spans[name] for name in ("spot", "acceleration", "cornering", "step")]
    machine = replace(
        MACHINE,
        wavelength_nm=spans["wavelength"].value,
        spot_mm=(spans["spot"].value,) * 2,
        power_w=power if is_power_known else spans["power"].value,
        top_speed_mm_s=within(60, 600),
        spans=tuple(unknown if is_power_known else [*unknown, spans["power"]]),
    )
    resist = load_resists()[int(rng.integers(len(load_resists())))]
    thick = resist.thickness_um
    coat = Coat(
        paint=resist.ident,
        thickness_um=within(thick.low or thick.value, thick.high or thick.value),
    )
    is_metal = bool(rng.random() < 0.5)
    job = make_job(
        blank=plate((120.0, 80.0), material="aluminium" if is_metal else "acrylic-cast"),
        coats=(coat,),
        etch=None,
    )
    job = replace(
        job,
        machine=machine,
        clearing=Clearing(
            power=1.0,
            speed_mm_s=machine.top_speed_mm_s / 2,
            choose_power=True,
            choose_speed=True,
        ),
    )
    width = within(spans["spot"].low, spans["spot"].high)
    ratio = within(0.7, 1.4)
    spot = np.clip([width * ratio**0.5, width / ratio**0.5], spans["spot"].low, spans["spot"].high)
    paint = paint_threshold(coat.colour)
    # The table's range is that of nearly all paints, not of every one.
    fluence = within(paint.low, paint.high) * 1e-3 * coat.thickness_um
    truth = {
        "radius": {"x": spot[0] / 2, "y": spot[1] / 2},
        "fluence": fluence,
        # What the metal leads away, as a share of what a line at 20 mm/s takes.
        "loss_j_per_s": within(0.05, 0.5) * 20 * 1.2533 * width / 2 * fluence if is_metal else 0.0,
        # Doses are given in J/mm of the power that the job holds.
        "stronger": power / machine.power_w,
    }
    knowledge = knowledge_for(job)
    _, _, _, settings = coupon_settings("clearing", job, knowledge)
    readings = burnt(clearing_parts(settings), truth, rng)
    searched = [one for one in readings if one.id[0] in "XY"]
    brackets = all(
        any(not one.is_cleared for one in mine) and any(one.is_cleared for one in mine)
        for mine in ([o for o in searched if o.axis == axis] for axis in "xy")
    )
    three = all(sum(one.is_cleared for one in searched if one.axis == axis) >= 3 for axis in "xy")
    fits = fit_both(readings)
    true = [2 * truth["radius"][axis] for axis in ("x", "y")]
    if not all(isinstance(fit, AxisFit) for fit in fits):
        return Tried(seed=seed, brackets=brackets, three_clear=three, fits=(False, False),
                     first_off=np.nan, second_off=np.nan)  # fmt: skip
    first_off = max(abs(f.spot_mm.value / t - 1) for f, t in zip(fits, true, strict=True))
    entry = kept(fits, job, coat, is_metal)
    again = with_shop_book(job, ShopNumbers(clearing=(entry,)), knowledge)
    _, _, _, settings = coupon_settings("clearing", again, knowledge)
    fits = fit_both(burnt(clearing_parts(settings), truth, rng))
    if not all(isinstance(fit, AxisFit) for fit in fits):
        return Tried(seed=seed, brackets=brackets, three_clear=three, fits=(True, False),
                     first_off=first_off, second_off=np.nan)  # fmt: skip
    second_off = max(abs(f.spot_mm.value / t - 1) for f, t in zip(fits, true, strict=True))
    return Tried(seed=seed, brackets=brackets, three_clear=three, fits=(True, True),
                 first_off=first_off, second_off=second_off)  # fmt: skip


def burnt(parts, truth, rng):
    """Read every line of a coupon as it comes out."""
    readings = []
    for line in (line for part in parts for line in part.lines):
        axis = "y" if line.from_mm[1] == line.to_mm[1] else "x"
        w = truth["radius"][axis]
        # One pass counts for all here: passes that do not add up are the harder case.
        dose = truth["stronger"] * line.line_dose_j_per_mm / line.passes
        speed = line.speed_mm_s
        threshold = np.sqrt(np.pi / 2) * w * truth["fluence"] + truth["loss_j_per_s"] / speed
        width = w * np.sqrt(2 * np.log(dose / threshold)) if dose > threshold else 0.0
        seen = max(0.0, width + rng.normal(0, READ_SD_MM))
        readings.append(
            LineReading(
                id=line.id,
                axis=axis,
                line_dose_j_per_mm=line.line_dose_j_per_mm,
                power_fraction=line.power_fraction,
                speed_mm_s=speed,
                passes=line.passes,
                width_mm=seen,
                width_sd_mm=READ_SD_MM,
                is_cleared=seen > SEEN_MM,
                bound_mm=SEEN_MM,
                offset_mm=0.0,
            )
        )
    return readings


def kept(fits, job, coat, is_metal):
    x, y = fits
    return ClearingCalibration(
        date="2026-11-29",
        machine=identity_of(job.laser),
        material=job.blank.material,
        substrate="metal" if is_metal else "plastic",
        paint=coat.paint,
        colour=coat.colour,
        thickness_um=coat.thickness_um,
        spot_mm=(x.spot_mm, y.spot_mm),
        threshold_j_per_mm=(x.threshold_j_per_mm, y.threshold_j_per_mm),
        speed_mm_s=x.speed_mm_s,
        conduction_w=x.conduction_w,
    )
