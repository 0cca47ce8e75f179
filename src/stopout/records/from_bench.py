"""What the bench wrote down, as the book takes it: the page's record file and typed answers alike.

`stopout-record-2` has a row per piece, the coupon, and which steps were left out or done again;
`stopout-record-1`, the form of the first release, has the means alone and is still read.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields
from statistics import fmean, stdev
from typing import Annotated, Any, Literal

from pydantic import Field

from stopout.errors import BookError
from stopout.job.shop_numbers import JobRecord, PieceRecord
from stopout.records.forms import (
    AGITATION,
    FINISH,
    Day,
    Degrees,
    NotNegative,
    PieceRows,
    Positive,
    RecordForm,
    Text,
    Word,
    from_content,
    read_json,
    validated,
)
from stopout.units import six_digits
from stopout.values import Measured

RECORD_FORMATS = ("stopout-record-1", "stopout-record-2")
_LONGEST_NOTE = 2000


class _Said(RecordForm):
    """One line of the page's log."""

    what: Text
    word: Text
    at: Text = ""


class _Value(RecordForm):
    what: Text
    value: Text


class _Work(RecordForm):
    """How the work went, as the page logged it."""

    sheet: Text = ""
    saved: Text = ""
    steps: Annotated[tuple[_Said, ...], Field(strict=False)] = ()
    clocks: Annotated[tuple[_Said, ...], Field(strict=False)] = ()
    values: Annotated[tuple[_Value, ...], Field(strict=False)] = ()


class _Coupon(RecordForm):
    depth_mm: Annotated[tuple[Positive, ...], Field(strict=False, max_length=20)] = ()
    time_s: Positive | None = None
    in_resist_mm: Positive | None = None
    in_metal_mm: Positive | None = None


class _Bench(RecordForm):
    format: Literal["stopout-record-2"]
    date: Day
    name: Word
    material: Word
    etchant: Word
    strength_g_per_l: Positive
    temperature_degc: Degrees
    agitation: AGITATION
    pieces: PieceRows
    finish: FINISH = "bare"
    revision: Text = ""
    job_sha256: Text = ""
    undercut_mm: Positive | None = None
    metal_removed_g: NotNegative | None = None
    bath: Text = ""
    note: Text = ""
    coupon: _Coupon | None = None
    work: _Work | None = None
    record_id: Text = ""


def job_record_of(text: str, *, where: str) -> JobRecord:
    """Return the job record that a record file of either format holds.

    Parameters
    ----------
    text : str
        The file's text.
    where : str
        Its name, for errors.

    Raises
    ------
    BookError
        If it is not JSON, of another format, or a field is wrong.
    """
    data = read_json(text, where=where)
    found = data.get("format")
    if found == RECORD_FORMATS[1]:
        return record_from_bench(data, where=where)
    if found != RECORD_FORMATS[0]:
        said = " or ".join(f'"{name}"' for name in RECORD_FORMATS)
        raise BookError(f'{where}: "format" is {found!r}; a record says {said}')
    content = {key: value for key, value in data.items() if key != "format"}
    record = from_content("job", content, where=where)
    assert isinstance(record, JobRecord)
    return record


def record_from_bench(content: dict[str, Any], *, where: str) -> JobRecord:
    """Return the job record that the rows of the pieces come to.

    Parameters
    ----------
    content : dict
        As JSON holds it, of the format `stopout-record-2`.
    where : str
        What to call it in an error.

    Returns
    -------
    JobRecord
        Its depth is the mean of the pieces that have both a depth and a time, with the standard
        deviation of all their readings where there are two or more; its time the mean of theirs;
        its metal what was given, else the sum of all losses where every piece was weighed twice.

    Raises
    ------
    BookError
        Naming each field that is wrong, or saying that no piece has depth and time.
    """
    if "etchant" not in content and content.get("format") == RECORD_FORMATS[1]:
        raise BookError(
            f"{where}: nothing was etched on this job; the shop book takes etches, so keep this "
            "file with the job"
        )
    form: _Bench = validated(_Bench, content, where)
    rows = tuple(row.made() for row in form.pieces)
    gauged = [row for row in rows if row.depth_mm and row.time_s]
    if not gauged:
        raise BookError(
            f"{where}: no piece has both a depth and a time in the bath; a rate needs the two of "
            "one piece"
        )
    readings = [depth for row in gauged for depth in row.depth_mm]
    depth = fmean(fmean(row.depth_mm) for row in gauged)
    sd = stdev(readings) if len(readings) > 1 else 0.0
    said, own = form.plain(), {field.name for field in fields(JobRecord)}
    worked_out = {
        "depth_mm": Measured(value=six_digits(depth), sd=six_digits(sd)),
        "time_s": six_digits(fmean(row.time_s for row in gauged if row.time_s)),
        "undercut_mm": None if form.undercut_mm is None else Measured(value=form.undercut_mm),
        "pieces": max(1, sum(row.is_good is not False for row in rows)),
        "metal_removed_g": _metal(form.metal_removed_g, rows),
        "note": _note(form),
        "measured": (*_coupon(form), *rows),
    }
    return JobRecord(**{name: said[name] for name in said.keys() & own} | worked_out)


def _coupon(form: _Bench) -> tuple[PieceRecord, ...]:
    """The coupon as a row of its own, which counts in none of the means."""
    coupon = form.coupon
    if coupon is None:
        return ()
    across = (coupon.in_resist_mm, coupon.in_metal_mm)
    note = ""
    if across[0] and across[1]:
        note = f"a stroke of {across[0]:g} mm in the resist is {across[1]:g} mm in the metal"
    row = PieceRecord(piece="coupon", depth_mm=coupon.depth_mm, time_s=coupon.time_s, note=note)
    return () if row == PieceRecord(piece="coupon") else (row,)


def _metal(given_g: float | None, rows: Sequence[PieceRecord]) -> float | None:
    """What went into the bath: given, else all losses; None where a piece was not weighed."""
    if given_g is not None:
        return given_g
    losses = [
        row.before_g - row.after_g
        for row in rows
        if row.before_g is not None and row.after_g is not None
    ]
    return six_digits(math.fsum(losses)) if losses and len(losses) == len(rows) else None


def _note(form: _Bench) -> str:
    """The note, and behind it what departed from the sheet."""
    steps = () if form.work is None else form.work.steps
    parts = [form.note] if form.note else []
    for word, said in (("skipped", "left out"), ("again", "done again")):
        found = list(dict.fromkeys(line.what for line in steps if line.word == word))
        if found:
            parts.append(f"{said}: {'; '.join(found)}")
    return ". ".join(parts)[:_LONGEST_NOTE]
