"""What the shop book hands to a plan: the shop's own numbers as frozen records.

The book itself is `stopout.records`; it fills these. Dates are ISO 8601 (`2026-11-20`); `ident` is
the entry's number in the book, 0 while it is not in one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from stopout.clearing import radius_mm
from stopout.values import Machine, Measured


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineIdentity:
    """What tells one laser from another: its spot (1/e^2 full widths), wavelength and power.

    A spot of nought stands for one that was not known; it is then not compared.

    Bed, motor step, speeds and clamps do not change what the beam does to paint, and are left out.
    """

    spot_mm: tuple[float, float]
    wavelength_nm: float
    power_w: float


def identity_of(machine: Machine) -> MachineIdentity:
    """Return a machine's identity, its spot turned to 1/e^2 full widths; nought if not known."""
    x, y = (2 * radius_mm(width, machine.spot_means) for width in machine.spot_mm)
    if machine.span("spot") is not None:
        x = y = 0.0
    return MachineIdentity(
        spot_mm=(x, y), wavelength_nm=machine.wavelength_nm, power_w=machine.power_w
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearingCalibration:
    """What a clearing coupon told of one machine on one paint on one material.

    Attributes
    ----------
    substrate : str
        `metal` or `plastic`: a metal draws heat away, so that the threshold hangs on the speed.
    thickness_um : float
        Of the coat as sprayed.
    spot_mm : (Measured, Measured)
        1/e^2 full widths across lines, x and y: twice the w of D^2 = 2 w^2 ln(q / q_th).
    threshold_j_per_mm : (Measured, Measured)
        Threshold line dose of one pass, likewise by the axis across which it was measured.
    correlation : (float, float)
        Between the errors of the spot and of the threshold's logarithm, 0 where not known.
    speed_mm_s : float or None
        At which the lines were burnt.
    conduction_w : Measured or None
        b of the threshold power P_th = a v + b, from coupons at two speeds.
    incubation : Measured or None
        Exponent S of the threshold of N passes, q_th(N) = q_th(1) N^(S - 1).
    passes_tested : int
        The largest N that was burnt.
    line_dose_range_j_per_mm : (float, float) or None
        The doses that entered the fit; beyond them a width is an extrapolation.
    finish : str
        The blank's, as the job file names it.
    """

    date: str
    machine: MachineIdentity
    material: str
    substrate: Literal["metal", "plastic"]
    paint: str
    colour: str
    thickness_um: float
    spot_mm: tuple[Measured, Measured]
    threshold_j_per_mm: tuple[Measured, Measured]
    correlation: tuple[float, float] = (0.0, 0.0)
    speed_mm_s: float | None = None
    conduction_w: Measured | None = None
    incubation: Measured | None = None
    passes_tested: int = 1
    line_dose_range_j_per_mm: tuple[float, float] | None = None
    finish: str = "bare"
    scan_sha256: str = ""
    coupon_sha256: str = ""
    note: str = ""
    ident: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class EtchCalibration:
    """What an etch coupon told of a metal in a bath. `etch_factor` is depth / undercut per edge.

    `rate_um_per_min` is None where the time was not written down. `finish` is the blank's.
    """

    date: str
    material: str
    etchant: str
    strength_g_per_l: float
    temperature_degc: float
    agitation: str
    depth_mm: Measured
    undercut_mm: Measured
    etch_factor: Measured
    rate_um_per_min: Measured | None = None
    finish: str = "bare"
    scan_sha256: str = ""
    coupon_sha256: str = ""
    note: str = ""
    ident: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRecord:
    """What was measured on one piece of a job; None and () where it was not.

    `depth_mm` holds the readings as taken, `time_s` is the time in the bath, `before_g` and
    `after_g` are its weights before and after the etch.
    """

    piece: str
    depth_mm: tuple[float, ...] = ()
    time_s: float | None = None
    before_g: float | None = None
    after_g: float | None = None
    is_good: bool | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord:
    """What was measured on a finished job: depth, time, temperature, maybe the undercut.

    `bath` names a bath of the book, "" for none; `metal_removed_g` is what all pieces together
    gave to it. `measured` holds the pieces one by one, where they were written down so; `depth_mm`
    and `time_s` are then their means. `record_id` tells one working from another, "" for none: what
    is saved anew under it takes the place of what was saved before.
    """

    date: str
    name: str
    material: str
    etchant: str
    strength_g_per_l: float
    temperature_degc: float
    agitation: str
    depth_mm: Measured
    time_s: float
    undercut_mm: Measured | None = None
    finish: str = "bare"
    revision: str = ""
    job_sha256: str = ""
    pieces: int = 1
    bath: str = ""
    metal_removed_g: float | None = None
    note: str = ""
    measured: tuple[PieceRecord, ...] = ()
    record_id: str = ""
    ident: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bath:
    """A bath as the label on its container names it; what became of it is in its ledger."""

    date: str
    name: str
    etchant: str
    note: str = ""
    ident: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class BathEvent:
    """One line of a bath's ledger.

    Attributes
    ----------
    kind : str
        `mixed` starts it with `litres`; `etched` adds `metal_g`; `topped-up` adds `litres` of fresh
        solution; `discarded` ends it.
    at : str
        Date, or date and time, ISO 8601.
    record : str
        The digest of the job record that wrote the line, with which it is forgotten.
    """

    kind: Literal["mixed", "etched", "topped-up", "discarded"]
    at: str
    litres: float = 0.0
    metal_g: float = 0.0
    reagent_g: float = 0.0
    note: str = ""
    record: str = ""
    ident: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """What a coupon's timing combs told of a machine, along x and along y.

    `delay_ms` is how late the beam goes on and off, `play_mm` the play of the drive; both zero or
    more.
    """

    date: str
    machine: MachineIdentity
    delay_ms: tuple[Measured, Measured]
    play_mm: tuple[Measured, Measured]
    scan_sha256: str = ""
    coupon_sha256: str = ""
    note: str = ""
    ident: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTime:
    """A measured run time of a program on a machine.

    `acceleration_mm_s2` and `cornering_mm` are the machine's as its job files give them; the
    program takes `took_s` where the acceleration is `scale` times that.
    """

    date: str
    machine: MachineIdentity
    name: str
    acceleration_mm_s2: float
    cornering_mm: float
    planned_s: float
    took_s: float
    scale: float
    program_sha256: str = ""
    note: str = ""
    ident: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Equipment:
    """What jobs call by a name: a machine, a paint as sprayed here, a tray, limits; and prices.

    `keys` are its figures as a job file writes them.
    """

    date: str
    kind: Literal["machine", "paint", "tray", "limits", "price"]
    name: str
    keys: Mapping[str, Any]
    note: str = ""
    ident: int = 0

    @property
    def words(self) -> str:
        """Whose figures they are, as a plan says it."""
        return f"the shop's {self.kind} {self.name} (shop book, entry {self.ident})"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopNumbers:
    """Everything of a book that bears on plans."""

    clearing: tuple[ClearingCalibration, ...] = ()
    etch: tuple[EtchCalibration, ...] = ()
    jobs: tuple[JobRecord, ...] = ()
    timings: tuple[Timing, ...] = ()
    runs: tuple[RunTime, ...] = ()
