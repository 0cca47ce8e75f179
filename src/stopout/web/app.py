"""The page's answers: jobs of a folder read, edited, drafted and planned."""

from __future__ import annotations

import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from stopout.web import arrivals, orders, plans, records, scans, shop
from stopout.web.controls import mistakes_of, sections, values_of
from stopout.web.desk import BadRequestError, Desk, Past, Way, over, said_in
from stopout.web.drafts import Bench
from stopout.web.edits import Edit, applied
from stopout.web.guard import Guard
from stopout.web.place import PAGE, ChangedError, Place, Text

_MOST_UNDO = 200


def make_app(
    folder: Path,
    *,
    hosts: set[str],
    token: str | None = None,
    book: Path | None = None,
    address: str = "",
) -> Guard:
    """Make the application for a folder of jobs.

    Parameters
    ----------
    folder : Path
        Nothing outside it is read or written.
    hosts : set of str
        Under which names and ports it is served.
    token : str, optional
        What the address must hold; None on the loopback.
    book : Path, optional
        Where the shop book lies, or is made when something is kept; None leaves it alone.
    address : str
        What another device in the network opens, "" for none.
    """
    desk = Desk(place=Place(folder), bench=Bench(), book=book, address=address)

    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        desk.bench.warm()
        try:
            yield
        finally:
            desk.bench.end()
            scans.end(desk)

    ways = (
        *plans.WAYS,
        *records.WAYS,
        *scans.WAYS,
        *orders.WAYS,
        *shop.WAYS,
        *arrivals.WAYS,
        *_WAYS,
    )
    routes = [
        Route("/", _index),
        *(
            Route(way, over(desk, answer), methods=["POST"] if changes else ["GET"])
            for way, answer, changes in ways
        ),
        Mount("/page", StaticFiles(directory=PAGE)),
    ]
    return Guard(Starlette(routes=routes, lifespan=life), hosts=hosts, token=token)


async def _index(request: Request) -> Response:
    return FileResponse(PAGE / "index.html")


async def _sections(desk: Desk, request: Request) -> Response:
    return JSONResponse({"sections": sections()})


async def _job(desk: Desk, request: Request) -> Response:
    job = request.path_params["job"]
    return _state(desk, job, desk.place.read(job))


async def _stamp(desk: Desk, request: Request) -> Response:
    """What tells a job file from another: a page asks whether its own is still that."""
    return JSONResponse({"sha256": desk.place.read(request.path_params["job"]).sha256})


def _state(desk: Desk, job: str, now: Text) -> Response:
    past = desk.past.get(job, Past())
    return JSONResponse(
        {
            "job": job,
            "sha256": now.sha256,
            "text": now.text,
            "values": values_of(now.text),
            "mistakes": mistakes_of(now.text.encode(), f"{job}.toml"),
            "undo": bool(past.undo) and past.undo[-1][1] == now.sha256,
            "redo": bool(past.redo) and past.redo[-1][1] == now.sha256,
        }
    )


async def _edit(desk: Desk, request: Request) -> Response:
    """Change one key. An edit made on an older text holds where that key is still the same."""
    job, said = request.path_params["job"], await said_in(request)
    table = said.get("table")
    if not isinstance(table, list) or not all(isinstance(step, str | int) for step in table):
        raise BadRequestError("an edit names its table")
    key = said.get("key")
    if not isinstance(key, str) or not key:
        raise BadRequestError("an edit names its key")
    async with desk.lock(job):
        now = desk.place.read(job)
        edit = Edit(tuple(table), key, said.get("value"))
        if now.sha256 != said.get("sha256") and said.get("was") != _value_at(now.text, edit):
            raise ChangedError(f"{key} was changed elsewhere; look at it again")
        return _state(desk, job, _written(desk, job, now, applied(now.text, edit)))


def _value_at(text: str, edit: Edit) -> Any:
    here: Any = values_of(text)
    for step in (*edit.table, edit.key):
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            return None
    return here


def _written(desk: Desk, job: str, now: Text, text: str) -> Text:
    after = desk.place.write(job, text, over=now.sha256)
    past = desk.past.setdefault(job, Past())
    if after.sha256 != now.sha256:
        past.undo = [*past.undo, (now.text, after.sha256)][-_MOST_UNDO:]
        past.redo.clear()
    return after


async def _back(desk: Desk, request: Request) -> Response:
    job, way = request.path_params["job"], request.path_params["way"]
    past = desk.past.setdefault(job, Past())
    kept, other = (past.undo, past.redo) if way == "undo" else (past.redo, past.undo)
    async with desk.lock(job):
        now = desk.place.read(job)
        if not kept or kept[-1][1] != now.sha256:
            raise ChangedError("the file was changed elsewhere, so that there is no way back")
        text, _ = kept.pop()
        after = desk.place.write(job, text, over=now.sha256)
        other.append((now.text, after.sha256))
        if kept:
            # What lay before is reached from here again.
            kept[-1] = (kept[-1][0], after.sha256)
        return _state(desk, job, after)


_WAYS: tuple[Way, ...] = (
    ("/api/sections", _sections, False),
    ("/api/job/{job:path}/stamp", _stamp, False),
    ("/api/job/{job:path}/edit", _edit, True),
    ("/api/job/{job:path}/back/{way}", _back, True),
    ("/api/job/{job:path}", _job, False),
)


def new_token() -> str:
    """Return a token that nobody guesses."""
    return secrets.token_urlsafe(18)
