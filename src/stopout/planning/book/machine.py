"""A machine with what the shop book knows of it: its beam's lag, its play, its run times."""

from __future__ import annotations

from dataclasses import replace

from stopout.job.shop_numbers import RunTime, ShopNumbers, Timing, identity_of
from stopout.planning.book.matching import machine_differs, newest
from stopout.values import Finding, Machine

# Figures that a job file repeats agree to far more digits than this.
_SAME = 1e-6


def machine_with_book(machine: Machine, numbers: ShopNumbers, findings: list[Finding]) -> Machine:
    """Return the machine with lag and play where its job gives none, its accelerations scaled.

    Parameters
    ----------
    machine : Machine
        As the job gives it.
    numbers : ShopNumbers
        What the book holds.
    findings : list of Finding
        Gets a note for each thing taken.
    """
    known_by = identity_of(machine)
    timing = newest([t for t in numbers.timings if not machine_differs(t.machine, known_by)])
    run = newest(
        [
            r
            for r in numbers.runs
            if not machine_differs(r.machine, known_by)
            and abs(r.acceleration_mm_s2 / machine.acceleration_mm_s2 - 1) < _SAME
            and abs(r.cornering_mm / machine.cornering_mm - 1) < _SAME
        ]
    )
    if machine.span("spot") is not None:
        machine = _with_spot(machine, numbers, findings)
    if timing is not None:
        machine = _timed(machine, timing, findings)
    return machine if run is None else _scaled(machine, run, findings)


def _with_spot(machine: Machine, numbers: ShopNumbers, findings: list[Finding]) -> Machine:
    """Take the spot that the newest clearing coupon of this machine told, on whatever paint."""
    known_by = identity_of(machine)
    entry = newest([e for e in numbers.clearing if not machine_differs(e.machine, known_by)])
    if entry is None:
        return machine
    x, y = entry.spot_mm
    findings.append(
        _note(
            f"the spot, {x.value:.3f} x {y.value:.3f} mm (sd {x.sd:.3f} x {y.sd:.3f}), is from the "
            f"shop book: clearing coupon {entry.ident} of {entry.date}",
            "Burn a new coupon when lens or focus have changed.",
        )
    )
    return replace(
        machine,
        spot_mm=(x.value, y.value),
        spot_means="1/e2",
        spans=tuple(span for span in machine.spans if span.name != "spot"),
    )


def _timed(machine: Machine, timing: Timing, findings: list[Finding]) -> Machine:
    taken = []
    if machine.beam_lag_s is None:
        x, y = (one.value for one in timing.delay_ms)
        machine = replace(machine, beam_lag_s=(x / 1000, y / 1000))
        taken.append(f"the beam's lag, {x:.3f} ms along x and {y:.3f} along y")
    if machine.play_mm is None:
        x, y = (one.value for one in timing.play_mm)
        machine = replace(machine, play_mm=(x, y))
        taken.append(f"the play, {x:.3f} mm along x and {y:.3f} along y")
    if taken:
        findings.append(
            _note(
                f"{' and '.join(taken)}, is from the shop book: timing combs {timing.ident} of "
                f"{timing.date}; paths are corrected for it",
                "Burn the combs again when belts, gears or the laser's driver have changed.",
            )
        )
    return machine


def _scaled(machine: Machine, run: RunTime, findings: list[Finding]) -> Machine:
    told = machine.acceleration_mm_s2 * run.scale
    if machine.span("acceleration") is not None:
        findings.append(
            _note(
                f"the acceleration, {told:.0f} mm/s^2, is from {run.name} of {run.date} (shop "
                f"book, entry {run.ident})",
                "Time a program again when the control's settings have changed.",
            )
        )
        # What a run has told is no range any more.
        spans = tuple(span for span in machine.spans if span.name != "acceleration")
        return replace(machine, acceleration_mm_s2=told, acceleration_scale=run.scale, spans=spans)
    if abs(run.scale - 1) < _SAME:
        return machine
    findings.append(
        _note(
            f"times are calculated with {run.scale:.3g} times the given acceleration, corners "
            f"likewise: {run.name} of {run.date} took {run.took_s:.0f} s where {run.planned_s:.0f} "
            f"were planned (shop book, entry {run.ident})",
            "Time a program again when the control's settings have changed.",
        )
    )
    return replace(machine, acceleration_mm_s2=told, acceleration_scale=run.scale)


def _note(message: str, remedy: str) -> Finding:
    return Finding.note("shop-book-used", message, remedy)
