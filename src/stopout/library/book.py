"""The shop book beside a job: its numbers where the job leaves them out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import BookError

if TYPE_CHECKING:
    from stopout.job.record import Job
    from stopout.job.shop_numbers import Equipment
    from stopout.planning.knowledge import Knowledge
    from stopout.records import Entry, ShopBook


def usual_book() -> Path | None:
    """Where the shop book lies: STOPOUT_BOOK, else the usual place for user data; None without one.

    Returns
    -------
    Path or None
    """
    from stopout.records import book_path

    path = book_path(None)
    return path if path.exists() else None


def book_for_keeping(told: Path | None) -> ShopBook:
    """Open the shop book for writing, and make it where there is none yet."""
    from stopout.records import book_path, open_book

    return open_book(book_path(told))


def book_for_reading(told: Path | None) -> ShopBook | None:
    """Open the shop book for reading; None, and nothing made, where there is none.

    Raises
    ------
    BookError
        If one was named on the command line and is not there.
    """
    from stopout.records import book_path

    if told is not None and not told.exists():
        raise BookError(f"there is no shop book {told}; check the name, or leave --book out")
    path = book_path(told)
    if not path.exists():
        return None
    # Only now, for a plan without a book should not pay for one.
    from stopout.records import open_book_if_any

    return open_book_if_any(path)


def with_book(job: Job, knowledge: Knowledge, told: Path | None) -> Job:
    """Return the job with the shop's own numbers where its file leaves them out."""
    book = book_for_reading(told)
    if book is None:
        return job
    from stopout.planning.book.numbers import with_shop_book

    with book:
        numbers, kept = book.numbers(), book.equipment()
        named = book.bath(job.bath.ident) if job.bath.ident else None
    job = with_shop_book(job, numbers, knowledge)
    # What the ledger says of the bath's volume bounds the tray that it covers.
    return _with_tray(_with_bath(job, named) if job.bath.ident else job, kept)


def _with_bath(job: Job, named: Entry | None) -> Job:
    """Return the job with what the ledger says of the bath that it names."""
    from stopout.job.shop_numbers import Bath
    from stopout.planning.book.bath import BathState, with_bath
    from stopout.records import is_discarded, ledger_dissolved_g_per_l, ledger_litres

    if named is None or not isinstance(named.record, Bath):
        return with_bath(job, None)
    events = named.events
    state = BathState(
        etchant=named.record.etchant,
        litres=ledger_litres(events),
        dissolved_g_per_l=ledger_dissolved_g_per_l(events),
        is_discarded=is_discarded(events),
        last=events[-1].at[:10] if events else named.record.date,
    )
    return with_bath(job, state)


def _with_tray(job: Job, kept: Sequence[Equipment]) -> Job:
    """Lay a job's pieces in the smallest of the shop's trays for them, where it names none."""
    from stopout.etching.bath.use import tray_for
    from stopout.jobs.equipment import equipment_mistakes, tray_floor_mm

    usable = [
        one for one in kept if one.kind == "tray" and not equipment_mistakes("tray", one.keys)
    ]
    trays = {tray_floor_mm(one): one for one in usable}
    bath, etch = job.bath, job.etch
    is_said = bath.tray_mm is not None or bath.plates_at_once is not None
    if not trays or is_said or etch is None or etch.electrolyte or etch.agitation == "bubbled":
        return job
    size_mm, pieces = (job.blank.width_mm, job.blank.height_mm), job.quantity + job.spares
    chosen = tray_for(size_mm, pieces, bath.volume_l, list(trays))
    if chosen is None:
        return job
    whose = (*job.whose, ("bath.tray", trays[chosen[0]].words))
    return replace(job, bath=replace(bath, tray_mm=chosen[0]), whose=whose)
