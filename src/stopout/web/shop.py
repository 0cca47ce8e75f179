"""The shop's side of the page: jobs by their state, what they take together, and the book."""

from __future__ import annotations

import datetime
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from stopout.errors import BookError
from stopout.web.controls import values_of
from stopout.web.desk import BadRequestError, Desk, Way
from stopout.web.orders import STATES, order_of, state_of
from stopout.web.place import PAGE
from stopout.web.plans import is_of, plan_of
from stopout.web.totals import Price, totals_of

_MOST_ENTRIES = 500


async def _page(desk: Desk, request: Request) -> Response:
    return FileResponse(PAGE / "shop.html")


async def _jobs(desk: Desk, request: Request) -> Response:
    return JSONResponse({"jobs": await run_in_threadpool(_all, desk), "states": STATES})


def _all(desk: Desk) -> list[dict[str, Any]]:
    return [_listed(desk, job) for job in desk.place.jobs()]


def _listed(desk: Desk, job: str) -> dict[str, Any]:
    path = desk.place.path(job)
    values = values_of(desk.place.read(job).text) or {}
    said = values.get("job")
    name = said.get("name", job) if isinstance(said, dict) else job
    order, plan = order_of(desk.place, job), _plan_of(desk, job)
    is_current = plan is not None and is_of(plan, path)
    is_planned = is_current and plan is not None and plan["state"] != "stopped"
    state = state_of(order, is_planned=is_planned)
    since = order.get(state) or (plan["date"] if plan is not None and state == "planned" else "")
    return {
        "job": job,
        "name": str(name),
        "state": state,
        "since": since,
        "is_stopped": is_current and plan is not None and plan["state"] == "stopped",
        "is_older": plan is not None and not is_current,
        "order": order,
        # What an older plan says of amounts is no longer this job's.
        "amounts": plan["amounts"] if plan is not None and is_current else None,
        "saved": path.stat().st_mtime,
    }


def _plan_of(desk: Desk, job: str) -> dict[str, Any] | None:
    """What the list needs of a plan; a plan.json is read once, until it changes."""
    path = desk.place.path(job)
    file = path.parent / f"{path.stem}-plan" / "plan.json"
    try:
        stat = file.stat()
    except OSError:
        return None
    key = (stat.st_mtime_ns, stat.st_size)
    if job in desk.plans and desk.plans[job][0] == key:
        return desk.plans[job][1]
    plan = plan_of(desk.place, job)
    made = None
    if plan is not None:
        verdict, amounts = plan.get("verdict"), plan.get("amounts")
        made = {
            "job": plan.get("job"),
            "state": verdict.get("state") if isinstance(verdict, dict) else None,
            "amounts": amounts if isinstance(amounts, dict) else None,
            "date": datetime.date.fromtimestamp(stat.st_mtime).isoformat(),
        }
    desk.plans[job] = (key, made)
    return made


async def _totals(desk: Desk, request: Request) -> Response:
    """What the jobs of some states take together."""
    states = set(request.query_params.getlist("state"))
    if not states <= set(STATES):
        raise BadRequestError(f"a state is one of {', '.join(STATES)}")
    return JSONResponse(await run_in_threadpool(_summed, desk, states or set(STATES)))


def _summed(desk: Desk, states: set[str]) -> dict[str, Any]:
    jobs = [one for one in _all(desk) if one["state"] in states]
    known = [one["amounts"] for one in jobs if one["amounts"] is not None]
    totals = totals_of(known, _prices(desk))
    return {**totals, "jobs": len(jobs), "counted": len(known)}


def _prices(desk: Desk) -> dict[str, Price]:
    from stopout.jobs.equipment import equipment_mistakes
    from stopout.library.equipment import shop_equipment

    if desk.book_to_read is None or desk.book is None:
        return {}
    return {
        one.name: Price(**one.keys)
        for one in shop_equipment(desk.book)
        if one.kind == "price" and not equipment_mistakes("price", one.keys)
    }


async def _book(desk: Desk, request: Request) -> Response:
    return JSONResponse(await run_in_threadpool(_entries, desk))


def _entries(desk: Desk) -> dict[str, Any]:
    """The book's entries, newest first, each in a line."""
    from stopout.library.book import book_for_reading
    from stopout.library.book_words import entry_words

    opened = None if desk.book_to_read is None else book_for_reading(desk.book)
    if opened is None:
        return {"entries": [], "is_left_alone": desk.book is None}
    with opened:
        entries = sorted(opened.entries(), key=lambda one: (one.date, one.ident), reverse=True)
    rows = [
        {
            "id": one.ident,
            "kind": one.kind,
            "date": one.date,
            "words": entry_words(one),
            "has_history": one.kind in ("clearing", "etch", "job", "bath"),
        }
        for one in entries[:_MOST_ENTRIES]
    ]
    return {"entries": rows, "is_left_alone": False}


async def _history(desk: Desk, request: Request) -> Response:
    """The picture that `stopout shop show --picture` draws."""
    picture = await run_in_threadpool(_drawn, desk, int(request.path_params["number"]))
    return Response(picture, media_type="image/png")


def _drawn(desk: Desk, number: int) -> bytes:
    from stopout.library.book import book_for_reading
    from stopout.library.history import history_of
    from stopout.pictures.history import history_png

    opened = None if desk.book_to_read is None else book_for_reading(desk.book)
    if opened is None:
        raise BookError("nothing is kept yet")
    with opened:
        entry, numbers = opened.get(number), opened.numbers()
    title, note, panels = history_of(entry, numbers)
    if not panels:
        raise BookError(f"entry {number} has no history to draw yet")
    return history_png(title, note, panels)


WAYS: tuple[Way, ...] = (
    ("/shop", _page, False),
    ("/api/jobs", _jobs, False),
    ("/api/totals", _totals, False),
    ("/api/book", _book, False),
    ("/api/book/{number:int}/history", _history, False),
)
