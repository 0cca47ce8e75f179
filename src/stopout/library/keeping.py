"""From what the bench and its scans told to what the shop book keeps."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import CouponError
from stopout.values import Measured

if TYPE_CHECKING:
    from stopout.job.shop_numbers import ClearingCalibration, EtchCalibration, JobRecord
    from stopout.library.planned_piece import PieceToInspect
    from stopout.records import Entry, Kept
    from stopout.scans.fitting.clearing import AxisFit
    from stopout.scans.inspecting.piece import Inspection
    from stopout.scans.reading.whole import Reading

_LEAST_INCUBATION = 1e-3


def keep_record(record: JobRecord, book: Path | None) -> tuple[Kept, Entry, str]:
    """Keep what was written down at the bench.

    Parameters
    ----------
    record : JobRecord
        From `job_record_of`, or as it was asked for.
    book : Path or None
        The shop book, made where there is none; None for the usual one.

    Returns
    -------
    kept : Kept
    entry : Entry
        As it stands in the book.
    note : str
        What is doubtful, or was not added to the bath that the record names; "" for nothing.

    Raises
    ------
    TableError, BookError
        If the tables know no such metal in such a bath, or the book does not take it.
    """
    from stopout.library.book import book_for_keeping
    from stopout.tables import canonical, load_pair

    record = replace(
        record,
        material=canonical("materials", record.material),
        etchant=canonical("etchants", record.etchant),
    )
    load_pair(record.material, record.etchant)
    with book_for_keeping(book) as opened:
        kept = opened.keep(record)
        entry = opened.get(kept.ident)
    notes = [doubt_of(record, entry.ident)]
    if record.bath and record.metal_removed_g is None:
        notes.append(
            "no metal_removed_g is given and not every piece was weighed twice: nothing was added "
            f"to the bath {record.bath!r}"
        )
    return kept, entry, "; ".join(note for note in notes if note)


def doubt_of(record: JobRecord | EtchCalibration | ClearingCalibration, ident: int) -> str:
    """Say what of an entry the tables know quite otherwise; "" for nothing.

    Parameters
    ----------
    record : JobRecord, EtchCalibration or ClearingCalibration
    ident : int
        Its number in the book, by which it is taken out.
    """
    from stopout.etching.rates.doubt import doubtful_factor, doubtful_rate
    from stopout.job.shop_numbers import ClearingCalibration, JobRecord
    from stopout.tables import load_pair

    if isinstance(record, ClearingCalibration):
        return ""
    pair = load_pair(record.material, record.etchant)
    rate: float | None
    if isinstance(record, JobRecord):
        rate, bath = 60_000.0 * record.depth_mm.value / record.time_s, record.bath
        under = record.undercut_mm
        factor = None if under is None else Measured(value=record.depth_mm.value / under.value)
    else:
        told = record.rate_um_per_min
        rate, bath, factor = None if told is None else told.value, "", record.etch_factor
    said = []
    if rate is not None:
        said.append(
            doubtful_rate(
                pair,
                rate,
                strength_g_per_l=record.strength_g_per_l,
                temperature_degc=record.temperature_degc,
                agitation=record.agitation,
                is_fresh=not bath,
            )
        )
    if factor is not None:
        said.append(doubtful_factor(pair, factor))
    words = "; ".join(one for one in said if one)
    if not words:
        return ""
    return f"{words}: check depth and minutes (stopout shop forget {ident} takes the entry out)"


def record_of_reading(
    reading: Reading,
    *,
    date: str,
    scan_sha256: str,
    time_s: float | None = None,
    temperature_degc: float | None = None,
) -> ClearingCalibration | EtchCalibration:
    """Return the shop book's record of a coupon that was read.

    Parameters
    ----------
    reading : Reading
        From `read_scan`.
    date : str
        ISO 8601.
    scan_sha256 : str
        Of the scan's bytes.
    time_s, temperature_degc : float, optional
        How long and how warm an etch coupon was etched, for the rate.

    Raises
    ------
    CouponError
        If what the book takes was not found.
    """
    from stopout.records.from_coupon import clearing_record, etch_record
    from stopout.scans.fitting.clearing import AxisFit

    identity = reading.layout.identity
    note = "; ".join(reading.cautions)[:1900]
    if reading.etch is None:
        fits = [_bookable(one) for one in reading.axes if isinstance(one, AxisFit)]
        if len(fits) < 2:
            raise CouponError(
                "nothing is kept: the shop book takes spot and threshold across both axes, and "
                "one of them was refused"
            )
        return clearing_record(
            identity, fits[0], fits[1], date=date, scan_sha256=scan_sha256, note=note
        )
    if reading.etch.etch_factor is None or reading.depth is None:
        raise CouponError("nothing is kept: an etch factor needs the depth; give --depth")
    speed = None
    if time_s is not None:
        minutes = time_s / 60
        speed = Measured(
            value=1000 * reading.depth.value / minutes, sd=1000 * reading.depth.sd / minutes
        )
    return etch_record(
        identity,
        depth_mm=reading.depth,
        undercut_mm=reading.etch.undercut_mm,
        etch_factor=reading.etch.etch_factor,
        rate_um_per_min=speed,
        temperature_degc=temperature_degc,
        date=date,
        scan_sha256=scan_sha256,
        note=note,
    )


def _bookable(fit: AxisFit) -> AxisFit:
    """The fit without what cannot be told from nothing: the book takes values above zero only."""
    conduction, incubation = fit.conduction_w, fit.incubation
    if conduction is not None and conduction.value < 2 * conduction.sd:
        conduction = None
    if incubation is not None:
        # Full adding is S = 0; noise alone takes it below.
        incubation = replace(incubation, value=max(incubation.value, _LEAST_INCUBATION))
    return replace(fit, conduction_w=conduction, incubation=incubation)


def record_of_inspection(
    found: Inspection,
    piece: PieceToInspect,
    *,
    undercut_mm: Measured,
    depth_mm: float,
    time_s: float,
    temperature_degc: float | None,
    date: str,
) -> JobRecord:
    """Return the shop book's job record of an etched piece that was held against its plan.

    Parameters
    ----------
    found : Inspection
        Of the etched piece.
    piece : PieceToInspect
        What it was held against.
    undercut_mm : Measured
        As the scan has it.
    depth_mm, time_s : float
        Depth as measured, and time in the bath.
    temperature_degc : float or None
        Of the bath as measured; None for the plan's.
    date : str
        ISO 8601.

    Raises
    ------
    CouponError
        If the plan names no bath.
    """
    from stopout.job.shop_numbers import JobRecord

    etch, blank, job = piece.etch, piece.blank, piece.job
    if etch is None:
        raise CouponError(
            "nothing is kept: the plan names no bath that it trusts; record the job with "
            "stopout shop record"
        )
    return JobRecord(
        date=date,
        name=job.name,
        material=blank.material,
        etchant=str(etch["etchant"]),
        strength_g_per_l=float(etch["strength_g_per_l"]),
        temperature_degc=(
            float(etch["temperature_degc"]) if temperature_degc is None else temperature_degc
        ),
        agitation=blank.agitation or "",
        depth_mm=Measured(value=depth_mm, sd=0.0),
        time_s=time_s,
        undercut_mm=undercut_mm,
        finish=blank.finish,
        revision=job.revision,
        job_sha256=job.job_sha256,
        note="; ".join(("undercut by a scan", *found.cautions))[:1900],
    )
