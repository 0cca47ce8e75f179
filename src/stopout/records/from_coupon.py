"""From a coupon's identity and what was fitted on it to a calibration for the shop book."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

from stopout.coupons.layout import Identity
from stopout.errors import BookError
from stopout.job.shop_numbers import ClearingCalibration, EtchCalibration, MachineIdentity, Timing
from stopout.values import Measured

if TYPE_CHECKING:
    from stopout.scans.fitting.clearing import AxisFit
    from stopout.scans.measuring.comb import TimingFit

_CLEARING = ("material", "substrate", "resist", "colour", "thickness_um")
_MACHINE = ("spot_x_mm", "spot_y_mm", "wavelength_nm", "power_w")
_ETCH = ("material", "etchant", "strength_g_per_l", "temperature_degc", "agitation")


def clearing_record(
    identity: Identity,
    across_x: AxisFit,
    across_y: AxisFit,
    *,
    date: str,
    scan_sha256: str = "",
    note: str = "",
) -> ClearingCalibration:
    """Return what a clearing coupon told, filed under what it was made of.

    Parameters
    ----------
    identity : Identity
        Of the coupon.
    across_x, across_y : Fitted
        Fits across the two axes.
    date : str
        When it was burnt, or else read, such as 2026-11-20.
    scan_sha256, note : str
        The scan's digest, and anything worth knowing.

    Raises
    ------
    BookError
        If the coupon does not say what it was made of, or the axes were burnt at two speeds.
    """
    _check(identity, (*_CLEARING, *_MACHINE))
    if abs(across_x.speed_mm_s - across_y.speed_mm_s) > 1e-6 * across_x.speed_mm_s:
        raise BookError(
            f"the lines were burnt at {across_x.speed_mm_s:g} mm/s one way and at "
            f"{across_y.speed_mm_s:g} mm/s the other; one speed is due"
        )
    ranges = (across_x.line_dose_range_j_per_mm, across_y.line_dose_range_j_per_mm)
    return ClearingCalibration(
        date=date,
        machine=_machine_of(identity),
        material=identity.material,
        substrate="plastic" if identity.substrate == "plastic" else "metal",
        paint=identity.resist,
        colour=identity.colour,
        thickness_um=cast(float, identity.thickness_um),
        spot_mm=(across_x.spot_mm, across_y.spot_mm),
        threshold_j_per_mm=(across_x.threshold_j_per_mm, across_y.threshold_j_per_mm),
        correlation=(across_x.correlation, across_y.correlation),
        speed_mm_s=across_x.speed_mm_s,
        conduction_w=_together(across_x.conduction_w, across_y.conduction_w),
        incubation=_together(across_x.incubation, across_y.incubation),
        # How passes add is the paint's, whichever way its lines ran; room is often for one axis.
        passes_tested=max(across_x.passes_tested, across_y.passes_tested),
        # Only where both axes have been seen is a mark no extrapolation.
        line_dose_range_j_per_mm=(max(r[0] for r in ranges), min(r[1] for r in ranges)),
        finish=identity.finish or "bare",
        scan_sha256=scan_sha256,
        coupon_sha256=identity.coupon_sha256,
        note=note,
    )


def etch_record(
    identity: Identity,
    *,
    depth_mm: Measured,
    undercut_mm: Measured,
    etch_factor: Measured,
    date: str,
    rate_um_per_min: Measured | None = None,
    temperature_degc: float | None = None,
    scan_sha256: str = "",
    note: str = "",
) -> EtchCalibration:
    """Return what an etch coupon told, filed under what it was etched in.

    Parameters
    ----------
    identity : Identity
        Of the coupon.
    depth_mm, undercut_mm, etch_factor : Measured
        Depth by hand; undercut and factor (depth / undercut per edge) as fitted.
    date : str
        When it was etched, or else read.
    rate_um_per_min : Measured or None
        Depth over time, where the time was written down.
    temperature_degc : float or None
        Of the bath as measured; None takes that which the job asked for.
    scan_sha256, note : str
        The scan's digest, and anything worth knowing.

    Raises
    ------
    BookError
        If the coupon does not say what it was etched in.
    """
    _check(identity, _ETCH)
    asked = cast(float, identity.temperature_degc)
    return EtchCalibration(
        date=date,
        material=identity.material,
        etchant=identity.etchant,
        strength_g_per_l=cast(float, identity.strength_g_per_l),
        temperature_degc=asked if temperature_degc is None else temperature_degc,
        agitation=identity.agitation,
        depth_mm=depth_mm,
        undercut_mm=undercut_mm,
        etch_factor=etch_factor,
        rate_um_per_min=rate_um_per_min,
        finish=identity.finish or "bare",
        scan_sha256=scan_sha256,
        coupon_sha256=identity.coupon_sha256,
        note=note,
    )


def timing_record(
    identity: Identity, combs: Sequence[TimingFit], *, date: str, scan_sha256: str = ""
) -> Timing | None:
    """Return what the timing combs of a coupon told of the machine; None where it has none.

    Parameters
    ----------
    identity : Identity
        Of the coupon.
    combs : sequence of Combed
        By axis. The beam is as late along an axis without a comb as along the other; play that was
        not measured counts as none, and so does what comes out below zero.
    date, scan_sha256 : str
        As for `clearing_record`.
    """
    by_axis = {comb.axis: comb for comb in combs}
    if not by_axis:
        return None
    _check(identity, _MACHINE)
    any_one = next(iter(by_axis.values()))
    pair = [by_axis.get(axis) for axis in ("x", "y")]
    delays = [_from_zero((comb or any_one).delay_ms) for comb in pair]
    plays = [_from_zero(None if comb is None else comb.play_mm) for comb in pair]
    return Timing(
        date=date,
        machine=_machine_of(identity),
        delay_ms=(delays[0], delays[1]),
        play_mm=(plays[0], plays[1]),
        scan_sha256=scan_sha256,
        coupon_sha256=identity.coupon_sha256,
    )


def _from_zero(value: Measured | None) -> Measured:
    if value is None:
        return Measured(value=0.0)
    return Measured(value=max(value.value, 0.0), sd=abs(value.sd))


def _machine_of(identity: Identity) -> MachineIdentity:
    return MachineIdentity(
        spot_mm=(cast(float, identity.spot_x_mm), cast(float, identity.spot_y_mm)),
        wavelength_nm=cast(float, identity.wavelength_nm),
        power_w=cast(float, identity.power_w),
    )


def _check(identity: Identity, names: tuple[str, ...]) -> None:
    lacking = [name for name in names if getattr(identity, name) in (None, "")]
    if lacking:
        raise BookError(
            f"coupon.json does not say what the coupon is of (identity: {', '.join(lacking)}), so "
            "its numbers cannot be filed; make the coupon anew with `stopout coupon`"
        )


def _together(one: Measured | None, other: Measured | None) -> Measured | None:
    """Return the mean of a value measured across both axes, weighted where both have an error."""
    if one is None or other is None:
        return one or other
    if not (one.sd > 0 and other.sd > 0):
        return Measured(value=(one.value + other.value) / 2, sd=max(one.sd, other.sd))
    weights = (one.sd**-2, other.sd**-2)
    mean = (weights[0] * one.value + weights[1] * other.value) / sum(weights)
    return Measured(value=mean, sd=sum(weights) ** -0.5)
