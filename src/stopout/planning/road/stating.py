"""The values a plan uses, each with its kind and source, for plan.json and the sheet."""

from __future__ import annotations

from stopout.clearing.dose import DEFAULT_DOSE_RATIO
from stopout.job.record import Job, Limits
from stopout.planning.measures.beam import (
    Beam,
    beam_for,
    beam_quality,
    focus_for,
)
from stopout.planning.plan import CoatPlan
from stopout.units import format_number
from stopout.values import Machine, Measured, Stated

_JOB_FILE = "job file"
_DEFAULTS = Limits()
# The job file's default.
_CORNERING_MM = 0.01


def machine_values(job: Job) -> tuple[Stated, ...]:
    """State the machine's numbers and the shop's limits: given, or left at their defaults."""
    return (*(_beam_values(job.laser) if job.route.has_beam else ()), *_limit_values(job))


def _beam_values(machine: Machine) -> tuple[Stated, ...]:
    return (
        _given(
            "beam spot",
            f"{machine.spot_mm[0]:.4g} x {machine.spot_mm[1]:.4g} mm ({machine.spot_means})",
        ),
        _given("wavelength", f"{machine.wavelength_nm:g} nm"),
        _given("full optical power", f"{machine.power_w:g} W"),
        _given("top speed", f"{machine.top_speed_mm_s:g} mm/s"),
        _given("acceleration", f"{machine.acceleration_mm_s2:g} mm/s^2"),
        _given("motor step", f"{machine.step_mm:g} mm"),
        _or_default(
            "cornering", f"{machine.cornering_mm:g} mm", machine.cornering_mm == _CORNERING_MM
        ),
    )


def _limit_values(job: Job) -> tuple[Stated, ...]:
    return (
        _or_default(
            "edge tolerance",
            f"{job.limits.edge_tolerance_mm:g} mm",
            job.limits.edge_tolerance_mm == _DEFAULTS.edge_tolerance_mm,
        ),
        _or_default(
            "narrowest land",
            f"{job.limits.narrowest_land_mm:g} mm",
            job.limits.narrowest_land_mm == _DEFAULTS.narrowest_land_mm,
        ),
    )


def _or_default(name: str, value: str, is_default: bool) -> Stated:
    """State a value that may stand at its default: then it is common practice, with no source."""
    if is_default:
        return Stated(name=name, value=value, kind="practice", source="default of the job file")
    return _given(name, value)


def clearing_values(coat: CoatPlan, job: Job) -> tuple[Stated, ...]:
    """State how a coat is cleared: mark, spacing, power, speed, dose."""
    clearing, beam = coat.clearing, beam_for(coat.coat, job)
    of = f" of coat {coat.number}" if len(job.coats) > 1 else ""
    mark = " x ".join(_measured(axis) for axis in coat.mark_mm) + " mm"
    dose = beam.line_dose_fraction * job.laser.power_w
    spacing = ""
    if clearing is not None:
        spacing = f"{format_number(clearing.spacing_mm, digits=4)} mm"
    return (
        _mark(f"mark{of}", mark, job, beam),
        *((_spacing(f"spacing{of}", spacing, job),) if spacing else ()),
        _given(f"clearing power{of}", f"{format_number(100 * beam.power, digits=4)} %"),
        _given(f"clearing speed{of}", f"{format_number(beam.speed_mm_s, digits=4)} mm/s"),
        Stated(
            name=f"line dose{of}",
            value=f"{format_number(dose, digits=4)} J/mm",
            kind="computed",
            source="power / speed x passes",
        ),
        Stated(
            name=f"reach{of}",
            value=f"{format_number(coat.reach_mm, digits=4)} mm",
            kind="computed",
            source="undercut + half the larger mark axis",
        ),
        Stated(
            name=f"height tolerance{of}",
            value=f"{focus_for(coat.coat, job).tolerance_mm:.2g} mm either way",
            kind="computed",
            grade="D",
            source=(
                "keeps the mark within 5 %: spot and dose ratio, at an assumed beam quality M2 "
                f"of {beam_quality(job.laser.wavelength_nm):g}"
            ),
        ),
    )


def _mark(name: str, value: str, job: Job, beam: Beam) -> Stated:
    if beam.is_measured:
        return Stated(name=name, value=value, kind="measured", source=beam.mark_source)
    ratio = job.settings.dose_ratio
    if ratio is not None:
        how = (
            f"from the spot at the given dose ratio {ratio:g} of its wider axis: one threshold, "
            "D = w sqrt(2 ln ratio)"
        )
    else:
        how = (
            f"from the spot at the default dose ratio {DEFAULT_DOSE_RATIO:g} of its wider axis; "
            "burn a coupon"
        )
    return Stated(name=name, value=value, kind="computed", source=how)


def _spacing(name: str, value: str, job: Job) -> Stated:
    if job.settings.spacing_mm is not None:
        return _given(name, value)
    return Stated(
        name=name,
        value=value,
        kind="computed",
        source="smaller of 0.85 of the mark across the lines and 1.1566 w, in whole motor steps",
    )


def _given(name: str, value: str) -> Stated:
    return Stated(name=name, value=value, kind="given", source=_JOB_FILE)


def _measured(axis: Measured) -> str:
    return f"{axis.value:.4g}" + (f" (sd {axis.sd:.2g})" if axis.sd > 0 else "")
