"""Entries of a shop book made in code: the valve tags of the sluice gear."""

from __future__ import annotations

from stopout.job.shop_numbers import (
    Bath,
    BathEvent,
    ClearingCalibration,
    EtchCalibration,
    JobRecord,
    MachineIdentity,
)
from stopout.values import Measured

MACHINE = MachineIdentity(spot_mm=(0.17, 0.12), wavelength_nm=450.0, power_w=5.5)


def m(value, sd=0.0):
    return Measured(value=value, sd=sd)


def clearing(**changes):
    """A clearing coupon of jobmaker's machine on black epoxy on aluminium."""
    fields = {
        "date": "2026-11-20",
        "machine": MACHINE,
        "material": "aluminium",
        "substrate": "metal",
        "paint": "epoxy-two-part",
        "colour": "black",
        "thickness_um": 25.0,
        "spot_mm": (m(0.16, 0.003), m(0.11, 0.002)),
        "threshold_j_per_mm": (m(0.030, 0.001), m(0.030, 0.001)),
        "speed_mm_s": 20.0,
        "scan_sha256": "a" * 64,
        "coupon_sha256": "b" * 64,
    }
    return ClearingCalibration(**{**fields, **changes})


def etch(**changes):
    """An etch coupon of aluminium in lye at 40 degC."""
    fields = {
        "date": "2026-11-21",
        "material": "aluminium",
        "etchant": "sodium-hydroxide",
        "strength_g_per_l": 100.0,
        "temperature_degc": 40.0,
        "agitation": "tray",
        "depth_mm": m(0.06, 0.002),
        "undercut_mm": m(0.05, 0.002),
        "etch_factor": m(1.2, 0.06),
        "rate_um_per_min": m(2.0, 0.1),
    }
    return EtchCalibration(**{**fields, **changes})


def job_record(**changes):
    """A finished job: 0.06 mm in half an hour, 2 um/min."""
    fields = {
        "date": "2026-11-22",
        "name": "Valve tag",
        "material": "aluminium",
        "etchant": "sodium-hydroxide",
        "strength_g_per_l": 100.0,
        "temperature_degc": 40.0,
        "agitation": "tray",
        "depth_mm": m(0.06, 0.003),
        "time_s": 1800.0,
    }
    return JobRecord(**{**fields, **changes})


def bath(**changes):
    return Bath(**{"date": "2026-11-20", "name": "lye A", "etchant": "sodium-hydroxide"} | changes)


def mixed(litres=2.0, at="2026-11-20", **changes):
    return BathEvent(kind="mixed", at=at, litres=litres, **changes)
