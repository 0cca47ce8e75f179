"""Entries of the shop book in words: for the terminal and for the bench page."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stopout.job.shop_numbers import Equipment
    from stopout.records import Entry


def entry_words(entry: Entry) -> str:
    """An entry in a line."""
    from stopout.job.shop_numbers import (
        ClearingCalibration,
        Equipment,
        EtchCalibration,
        JobRecord,
        RunTime,
        Timing,
    )
    from stopout.records import ledger_dissolved_g_per_l, ledger_litres

    record = entry.record
    if isinstance(record, ClearingCalibration):
        spot, dose = record.spot_mm, record.threshold_j_per_mm
        return (
            f"{record.colour} {record.paint} on {record.material}, {record.machine.power_w:g} W: "
            f"spot {spot[0].value:.4g} x {spot[1].value:.4g} mm, "
            f"threshold {dose[0].value:.3g} and {dose[1].value:.3g} J/mm"
        )
    if isinstance(record, EtchCalibration):
        rate = record.rate_um_per_min
        at = "" if rate is None else f", {rate.value:.3g} um/min"
        return (
            f"{record.material} in {record.etchant} at {record.temperature_degc:.4g} degC: "
            f"etch factor {record.etch_factor.value:.3g}{at}"
        )
    if isinstance(record, JobRecord):
        return (
            f"{record.name}: {record.depth_mm.value:.4g} mm in {record.time_s / 60:.3g} min at "
            f"{record.temperature_degc:.4g} degC, "
            f"{60 * 1000 * record.depth_mm.value / record.time_s:.3g} um/min"
        )
    if isinstance(record, Timing):
        (x, y), (p, q) = record.delay_ms, record.play_mm
        return (
            f"{record.machine.power_w:g} W: beam late by {x.value:.3f} and {y.value:.3f} ms, "
            f"play {p.value:.3f} and {q.value:.3f} mm along x and y"
        )
    if isinstance(record, RunTime):
        return (
            f"{record.name}: {record.took_s:.0f} s, {record.planned_s:.0f} planned; acceleration "
            f"{record.scale:.3g} times {record.acceleration_mm_s2:g} mm/s^2"
        )
    if isinstance(record, Equipment):
        return f"{record.name}: {equipment_words(record)}"
    return (
        f"{record.name}: {record.etchant}, {ledger_litres(entry.events):.4g} L, "
        f"{ledger_dissolved_g_per_l(entry.events):.3g} g/L of metal dissolved"
    )


def equipment_lines(record: Equipment) -> list[str]:
    """The figures as a job file writes them, a line each."""
    from stopout.jobs.equipment import KINDS
    from stopout.jobs.validate import toml_text

    order = list(KINDS[record.kind].parts)
    # An entry from elsewhere may hold what no job file knows.
    keys = sorted(record.keys, key=lambda key: order.index(key) if key in order else len(order))
    return [f"{key} = {toml_text(record.keys[key])}" for key in keys]


def equipment_words(record: Equipment) -> str:
    """The first of the figures in a line."""
    if record.kind == "price" and {"amount", "currency", "per"} <= set(record.keys):
        return "{amount:g} {currency} per {per}".format(**record.keys)
    return ", ".join(equipment_lines(record)[:4])
