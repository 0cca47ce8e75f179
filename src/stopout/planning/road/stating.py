"""The values a plan uses, each with its kind and source, for plan.json and the sheet."""

from __future__ import annotations

from stopout.clearing.beam.dose import DEFAULT_DOSE_RATIO
from stopout.job.record import Job, Limits
from stopout.planning.measures.beam import Beam, beam_for, beam_quality, focus_for
from stopout.planning.plan import CoatPlan
from stopout.units import format_number
from stopout.values import Machine, Measured, Span, Stated

_DEFAULTS = Limits()


def machine_values(job: Job) -> tuple[Stated, ...]:
    """State the machine's numbers and the shop's limits: whose each is, or that it is a default."""
    return (*(_beam_values(job, job.laser) if job.route.has_beam else ()), *_limit_values(job))


def _beam_values(job: Job, machine: Machine) -> tuple[Stated, ...]:
    spot = f"{machine.spot_mm[0]:.4g} x {machine.spot_mm[1]:.4g} mm ({machine.spot_means})"
    rows = (
        ("beam spot", "spot", spot),
        ("wavelength", "wavelength", f"{machine.wavelength_nm:g} nm"),
        ("full optical power", "power", f"{machine.power_w:g} W"),
        ("top speed", "top_speed", f"{machine.top_speed_mm_s:g} mm/s"),
        ("acceleration", "acceleration", f"{machine.acceleration_mm_s2:g} mm/s^2"),
        ("motor step", "step", f"{machine.step_mm:g} mm"),
        ("cornering", "cornering", f"{machine.cornering_mm:g} mm"),
        ("S at full power", "power_word", f"{machine.power_word:g}"),
    )
    return tuple(_known(machine.span(key), name, value, job, key) for name, key, value in rows)


def _known(span: Span | None, name: str, value: str, job: Job, key: str) -> Stated:
    """State a figure as given, or the range of those who did not measure it."""
    if span is None:
        return _given(name, value, job, f"machine.{key}")
    return Stated(
        name=name,
        value=f"{span.words}, planned with {value}",
        kind=span.kind,
        grade=span.grade,
        source=span.source,
    )


def _limit_values(job: Job) -> tuple[Stated, ...]:
    rows = (
        ("edge tolerance", "edge_tolerance", "edge_tolerance_mm"),
        ("narrowest land", "narrowest_land", "narrowest_land_mm"),
    )
    return tuple(
        Stated(name=name, value=value, kind="practice", source="default of the job file")
        # A value that stands at its default is common practice, whoever wrote it down.
        if getattr(job.limits, field) == getattr(_DEFAULTS, field)
        else _given(name, value, job, f"limits.{key}")
        for name, key, field in rows
        for value in (f"{getattr(job.limits, field):g} mm",)
    )


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
        _mark(f"mark{of}", mark, job, beam, _dose_key(coat, "mark")),
        *((_spacing(f"spacing{of}", spacing, job),) if spacing else ()),
        _set(
            f"clearing power{of}",
            f"{format_number(100 * beam.power, digits=4)} %",
            job,
            _dose_key(coat, "power"),
            is_chosen=job.settings.choose_power,
        ),
        _set(
            f"clearing speed{of}",
            f"{format_number(beam.speed_mm_s, digits=4)} mm/s",
            job,
            _dose_key(coat, "speed"),
            is_chosen=job.settings.choose_speed,
        ),
        _computed(
            f"line dose{of}", f"{format_number(dose, digits=4)} J/mm", "power / speed x passes"
        ),
        _computed(
            f"reach{of}",
            f"{format_number(coat.reach_mm, digits=4)} mm",
            "undercut + half the larger mark axis",
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


def _set(name: str, value: str, job: Job, key: str, *, is_chosen: bool) -> Stated:
    """State power or speed: as given, or as chosen by the threshold."""
    if not is_chosen:
        return _given(name, value, job, key)
    return _computed(
        name, value, "chosen for twice the threshold dose, the shop book's or else published"
    )


def _dose_key(coat: CoatPlan, key: str) -> str:
    """The key of the job file that gives how a coat is cleared."""
    own = {"power": coat.coat.power, "speed": coat.coat.speed_mm_s, "mark": coat.coat.mark_mm}
    return f"clearing.{key}" if own[key] is None else f"coat[{coat.number}].{key}"


def _mark(name: str, value: str, job: Job, beam: Beam, key: str) -> Stated:
    if beam.is_measured:
        whose = dict(job.whose).get(key, beam.mark_source)
        return Stated(name=name, value=value, kind="measured", source=whose)
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
    return _computed(name, value, how)


def _spacing(name: str, value: str, job: Job) -> Stated:
    if job.settings.spacing_mm is not None:
        return _given(name, value, job, "clearing.spacing")
    return _computed(
        name,
        value,
        "smaller of 0.85 of the mark across the lines and 1.1566 w, in whole motor steps",
    )


def _given(name: str, value: str, job: Job, key: str) -> Stated:
    return Stated(name=name, value=value, kind="given", source=job.source_of(key))


def _computed(name: str, value: str, how: str) -> Stated:
    return Stated(name=name, value=value, kind="computed", source=how)


def _measured(axis: Measured) -> str:
    return f"{axis.value:.4g}" + (f" (sd {axis.sd:.2g})" if axis.sd > 0 else "")
