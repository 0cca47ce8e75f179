"""What the page keeps of an order beside its job file: whose it is, for when, how far it is.

It stands in a small TOML file of its own, `NAME.order.toml`: a plan belongs to its job file byte
for byte, and a customer's words are none of the plan's business.
"""

from __future__ import annotations

import datetime
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from stopout.web.controls import values_of
from stopout.web.desk import BadRequestError, Desk, Way, said_in
from stopout.web.edits import Edit, applied
from stopout.web.place import ChangedError, Place, write_beside

# What the person says, in the order of the work; a plan says the two states before these.
TOLD = ("curing", "etched", "done")
STATES = ("drawn", "planned", *TOLD)
_TEXTS = {"customer": 200, "words": 4000}
_DATES = ("due", *TOLD)
_HEAD = "# What the bench page keeps of this order. No plan reads it.\n"
_MOST_BYTES = 100_000


def order_of(place: Place, job: str) -> dict[str, str]:
    """Return what is kept of an order, as text by its key; what cannot be read is left out."""
    path = place.order(job)
    if not path.is_file() or path.stat().st_size > _MOST_BYTES:
        return {}
    values = values_of(path.read_text(encoding="utf-8-sig", errors="replace")) or {}
    kept = {key: values[key] for key in _TEXTS if isinstance(values.get(key), str)}
    dates = {key: str(values[key]) for key in _DATES if _is_date(values.get(key))}
    return {**kept, **dates}


def state_of(order: dict[str, str], *, is_planned: bool) -> str:
    """Return how far an order is: what was told last in the order of the work, else the plan."""
    told = [state for state in TOLD if state in order]
    return told[-1] if told else "planned" if is_planned else "drawn"


def written(place: Place, job: str, key: str, value: str | None) -> dict[str, str]:
    """Write one key of an order and return it; every other line of the file stays as it is."""
    path = place.order(job)
    text = path.read_text(encoding="utf-8") if path.is_file() else _HEAD
    kept: Any = value or None
    if kept is not None and key in _DATES:
        kept = datetime.date.fromisoformat(kept)
    if kept is not None or key in (values_of(text) or {}):
        write_beside(path, applied(text, Edit((), key, kept)).encode())
    return order_of(place, job)


def _is_date(value: object) -> bool:
    try:
        datetime.date.fromisoformat(str(value))
    except ValueError:
        return False
    return True


async def _order(desk: Desk, request: Request) -> Response:
    """Change one key; where it is no longer what the page showed, nothing is overwritten."""
    job, said = request.path_params["job"], await said_in(request)
    key, value = said.get("key"), said.get("value")
    if key not in (*_TEXTS, *_DATES) or not isinstance(value, str):
        raise BadRequestError("an order has customer, words, due, curing, etched and done")
    if key in _DATES and value and not _is_date(value):
        raise BadRequestError(f"{key}: a date is written year-month-day, as 2026-11-20")
    if len(value) > _TEXTS.get(key, 20):
        raise BadRequestError(f"{key}: at most {_TEXTS[key]} characters are kept")
    async with desk.lock(job):
        now = await run_in_threadpool(order_of, desk.place, job)
        if now.get(key, "") != said.get("was", ""):
            raise ChangedError(f"{key} was changed elsewhere; it is '{now.get(key, '')}' now")
        return JSONResponse(
            {"order": await run_in_threadpool(written, desk.place, job, key, value)}
        )


WAYS: tuple[Way, ...] = (("/api/job/{job:path}/order", _order, True),)
