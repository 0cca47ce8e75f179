"""Which entries of the shop book speak of this job, and what sets the others apart.

Each test returns what differs, in words; nothing means that the entry may be used.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

from stopout.job.shop_numbers import (
    ClearingCalibration,
    EtchCalibration,
    JobRecord,
    MachineIdentity,
    RunTime,
    Timing,
)

_Entry = TypeVar("_Entry", ClearingCalibration, EtchCalibration, JobRecord, Timing, RunTime)

# How near two numbers must lie to stand for the same thing. Our own choices, no source.
# The spot of one machine is written down anew when it has been measured; another lens changes it
# by far more than this.
_SAME_SPOT = 0.20
_SAME_WAVELENGTH_NM = 5.0
# Thresholds are in J/mm of the power that the job file states: another power, another scale.
_SAME_POWER = 0.005
_SAME_THICKNESS = 0.05
# On metal the threshold hangs on the speed; where the loss is not measured, only about this far.
_SAME_SPEED = 0.25
_SAME_STRENGTH = 0.20
_SAME_TEMPERATURE_K = 10.0
_SAME_DEPTH = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearingCase:
    """What a job's coat is cleared with and from."""

    machine: MachineIdentity
    material: str
    paint: str
    colour: str
    thickness_um: float
    speed_mm_s: float
    passes: int
    finish: str = "bare"


@dataclass(frozen=True, slots=True, kw_only=True)
class EtchCase:
    """What a job is etched in."""

    material: str
    etchant: str
    strength_g_per_l: float
    temperature_degc: float
    agitation: str
    depth_mm: float
    finish: str = "bare"


def clearing_differs(entry: ClearingCalibration, case: ClearingCase) -> tuple[str, ...]:
    """Say what sets a clearing calibration apart from a coat of a job; nothing: it fits."""
    found = machine_differs(entry.machine, case.machine)
    found += _words_differ("material", entry.material, case.material)
    found += _words_differ("finish", entry.finish, case.finish)
    found += _words_differ("paint", entry.paint, case.paint)
    found += _words_differ("colour", _plain(entry.colour), _plain(case.colour))
    if not _is_near(entry.thickness_um, case.thickness_um, _SAME_THICKNESS):
        found.append(f"coat {entry.thickness_um:g} um, the job's is {case.thickness_um:g} um")
    if case.passes > 1 and entry.incubation is None:
        found.append(
            f"one pass, the job's is {case.passes} passes and how they add up was not measured"
        )
    elif case.passes > entry.passes_tested:
        found.append(f"up to {entry.passes_tested} passes, the job's is {case.passes}")
    if _is_other_speed(entry, case):
        found.append(
            f"burnt at {entry.speed_mm_s:g} mm/s, the job's is {case.speed_mm_s:g} mm/s and the "
            "loss of heat into the metal was not measured"
        )
    return tuple(found)


def _is_other_speed(entry: ClearingCalibration, case: ClearingCase) -> bool:
    if entry.substrate == "plastic" or entry.speed_mm_s is None or entry.conduction_w is not None:
        return False
    return not _is_near(case.speed_mm_s, entry.speed_mm_s, _SAME_SPEED)


def machine_differs(entry: MachineIdentity, case: MachineIdentity) -> list[str]:
    """Say what sets one laser apart from another; nothing: it is the same."""
    found = []
    if abs(entry.wavelength_nm - case.wavelength_nm) > _SAME_WAVELENGTH_NM:
        found.append(
            f"wavelength {entry.wavelength_nm:g} nm, the job's is {case.wavelength_nm:g} nm"
        )
    if not _is_near(entry.power_w, case.power_w, _SAME_POWER):
        found.append(f"full power {entry.power_w:g} W, the job's is {case.power_w:g} W")
    is_known = min(*entry.spot_mm, *case.spot_mm) > 0
    if is_known and not all(
        _is_near(ours, theirs, _SAME_SPOT)
        for ours, theirs in zip(entry.spot_mm, case.spot_mm, strict=True)
    ):
        found.append(f"spot {_axes(entry.spot_mm)} (1/e2), the job's is {_axes(case.spot_mm)}")
    return found


def etch_differs(entry: EtchCalibration | JobRecord, case: EtchCase) -> tuple[str, ...]:
    """Say what sets an etch coupon or a job record apart from a job's etch; nothing: it fits."""
    found = _words_differ("material", entry.material, case.material)
    found += _words_differ("finish", entry.finish, case.finish)
    found += _words_differ("etchant", entry.etchant, case.etchant)
    found += _words_differ("agitation", entry.agitation, case.agitation)
    if not _is_near(entry.strength_g_per_l, case.strength_g_per_l, _SAME_STRENGTH):
        found.append(
            f"{entry.strength_g_per_l:.4g} g/L, the job's is {case.strength_g_per_l:.4g} g/L"
        )
    if abs(entry.temperature_degc - case.temperature_degc) > _SAME_TEMPERATURE_K:
        found.append(
            f"{entry.temperature_degc:.4g} degC, the job's is {case.temperature_degc:.4g} degC"
        )
    if not 1 / _SAME_DEPTH <= entry.depth_mm.value / case.depth_mm <= _SAME_DEPTH:
        found.append(f"depth {entry.depth_mm.value:g} mm, the job's is {case.depth_mm:g} mm")
    return tuple(found)


def newest(entries: list[_Entry]) -> _Entry | None:
    """Return the entry of the latest date; of several on one day the one kept last."""
    return max(entries, key=lambda entry: (entry.date, entry.ident), default=None)


def _words_differ(name: str, entry: str, case: str) -> list[str]:
    return [] if entry == case else [f"{name} {entry}, the job's is {case}"]


def _plain(word: str) -> str:
    return " ".join(word.split()).casefold()


def _is_near(value: float, to: float, share: float) -> bool:
    # A hair's breadth more, so that the end of the range itself is in.
    return abs(value - to) <= share * to * (1 + 1e-9)


def _axes(size_mm: tuple[float, float]) -> str:
    return f"{size_mm[0]:.4g} x {size_mm[1]:.4g} mm"
