"""What the bench sheet wrote down, as it arrives: kept beside the plan and in the shop book."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from stopout.errors import BookClosedError, StopoutError
from stopout.web.desk import BadRequestError, Desk, Way, said_in
from stopout.web.orders import order_of, written
from stopout.web.place import write_beside

if TYPE_CHECKING:
    from pathlib import Path

_ID = re.compile(r"[0-9a-z]{8,40}")
_MOST_BYTES, _MOST_FILES = 1_000_000, 1000


async def _record(desk: Desk, request: Request) -> Response:
    """Take a record, as often as it is sent; one that was saved anew takes the earlier's place."""
    job, said = request.path_params["job"], await said_in(request)
    ident = said.get("record_id")
    if not isinstance(ident, str) or not _ID.fullmatch(ident):
        raise BadRequestError("a record has an id of its own, 8 to 40 letters and digits")
    text = json.dumps(said, indent=2, ensure_ascii=False) + "\n"
    if len(text.encode()) > _MOST_BYTES:
        raise BadRequestError("a record of more than 1 MB is not taken")
    async with desk.lock(job):
        file = desk.place.kept(job, "records") / f"{ident}.json"
        words, entry = await run_in_threadpool(_kept, desk.book, file, said, text)
        if entry is not None:
            await run_in_threadpool(_told_etched, desk, job, str(said["date"]))
    return JSONResponse({"has": ident, "words": words, "entry": entry})


def _told_etched(desk: Desk, job: str, date: str) -> None:
    """What is recorded is etched, unless the order says that already."""
    if "etched" not in order_of(desk.place, job):
        written(desk.place, job, "etched", date)


def _kept(book: Path | None, file: Path, said: dict[str, Any], text: str) -> tuple[str, int | None]:
    """Into the book first, then the file: sent again after a crash between, nothing is doubled."""
    if _saved(said) < _saved(_there(file)):
        return "A later one of this record is kept already.", None
    if not file.exists() and sum(1 for _ in file.parent.glob("*.json")) >= _MOST_FILES:
        raise BadRequestError(f"{file.parent.name} holds {_MOST_FILES} records; move old ones away")
    file.parent.mkdir(exist_ok=True)
    try:
        words, entry = _in_book(book, said, text)
    finally:
        # Also where the book cannot be used now, and the browser is to send it again.
        write_beside(file, text.encode())
    return f"{words} Also in {file.parent.name}/{file.name}.", entry


def _in_book(book: Path | None, said: dict[str, Any], text: str) -> tuple[str, int | None]:
    from stopout.library.book_words import entry_words
    from stopout.library.keeping import keep_record
    from stopout.records import job_record_of

    if book is None:
        return "The bench has it; the shop book is left alone (--no-book).", None
    if "etchant" not in said:
        return "The bench has it. Nothing was etched, so the shop book takes nothing.", None
    try:
        kept, entry, note = keep_record(job_record_of(text, where="the record"), book)
    except BookClosedError:
        raise
    except StopoutError as fault:
        return f"The bench has it, the shop book does not: {fault}.", None
    how = "Kept in the shop book as" if kept.is_new else "In the shop book already, as"
    more = f" {note}." if note else ""
    return f"{how} entry {kept.ident}: {entry_words(entry)}.{more}", kept.ident


def _there(file: Path) -> dict[str, Any]:
    try:
        said = json.loads(file.read_bytes())
    except (OSError, ValueError, RecursionError):
        return {}
    return said if isinstance(said, dict) else {}


def _saved(said: dict[str, Any]) -> str:
    """When a record was saved: ISO 8601, of one record always by the same browser's clock."""
    work = said.get("work")
    when = work.get("saved") if isinstance(work, dict) else None
    return when if isinstance(when, str) else ""


WAYS: tuple[Way, ...] = (("/api/job/{job:path}/record", _record, True),)
