"""The page's answers: jobs of a folder read, edited, drafted and planned."""

from __future__ import annotations

import secrets
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import resources
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from stopout.web import plans, records, scans
from stopout.web.controls import mistakes_of, sections, values_of
from stopout.web.desk import BadRequestError, Desk, Past, Way, over, said_in
from stopout.web.drafts import Bench
from stopout.web.edits import Edit, applied
from stopout.web.guard import Guard
from stopout.web.place import ChangedError, Place, Text, write_beside

_PAGE = Path(__file__).parent / "page"
_MOST_UNDO = 200
_UPLOADS = (".svg", ".pdf", ".dxf", ".png", ".jpg", ".jpeg", ".tif", ".tiff", ".bmp", ".webp",
            ".csv", ".ttf", ".otf")  # fmt: skip
_MOST_UPLOAD = 50_000_000
_STARTERS = ("plate", "sign")


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

    ways = (*plans.WAYS, *records.WAYS, *scans.WAYS, *_WAYS)
    routes = [
        Route("/", _index),
        *(
            Route(way, over(desk, answer), methods=["POST"] if changes else ["GET"])
            for way, answer, changes in ways
        ),
        Mount("/page", StaticFiles(directory=_PAGE)),
    ]
    return Guard(Starlette(routes=routes, lifespan=life), hosts=hosts, token=token)


async def _index(request: Request) -> Response:
    return FileResponse(_PAGE / "index.html")


async def _jobs(desk: Desk, request: Request) -> Response:
    return JSONResponse({"jobs": [_listed(desk, job) for job in desk.place.jobs()]})


def _listed(desk: Desk, job: str) -> dict[str, Any]:
    path = desk.place.path(job)
    plan = path.parent / f"{path.stem}-plan" / "plan.json"
    state = "drawn"
    if plan.is_file():
        state = "planned" if plan.stat().st_mtime >= path.stat().st_mtime else "planned before"
    values = values_of(desk.place.read(job).text) or {}
    said = values.get("job")
    name = said.get("name", job) if isinstance(said, dict) else job
    return {"job": job, "name": str(name), "state": state, "saved": path.stat().st_mtime}


async def _sections(desk: Desk, request: Request) -> Response:
    return JSONResponse({"sections": sections()})


async def _job(desk: Desk, request: Request) -> Response:
    job = request.path_params["job"]
    return _state(desk, job, desk.place.read(job))


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


async def _upload(desk: Desk, request: Request) -> Response:
    """Take a file beside the job; an existing one is only replaced if that is asked for."""
    job = request.path_params["job"]
    async with request.form(max_files=1, max_fields=4, max_part_size=_MOST_UPLOAD) as form:
        file = form.get("file")
        if file is None or isinstance(file, str):
            raise BadRequestError("a file is due")
        name = Path((file.filename or "").replace("\\", "/")).name
        if not name.lower().endswith(_UPLOADS):
            raise BadRequestError(f"'{name[:60]}' is no artwork, font or table of rows")
        path = desk.place.beside(job, name)
        if path.exists() and form.get("replace") != "yes":
            return JSONResponse({"exists": name}, 409)
        data = await file.read()
        if len(data) > _MOST_UPLOAD:
            raise BadRequestError(f"more than {_MOST_UPLOAD // 1_000_000} MB are not taken")
        await run_in_threadpool(write_beside, path, data)
    return JSONResponse({"name": name})


async def _new(desk: Desk, request: Request) -> Response:
    said = await said_in(request)
    name, kind = str(said.get("name", "")).strip(), said.get("kind")
    if kind not in _STARTERS:
        raise BadRequestError("a new job is a plate or a sign")
    folder = desk.place.folder / name
    if not name or folder.exists() or folder.parent != desk.place.folder or name.startswith("."):
        raise BadRequestError("give the job a name of its own, without slashes")
    starters = resources.files("stopout") / "cli" / "starters" / str(kind)
    files = {item.name: item.read_bytes() for item in starters.iterdir() if item.is_file()}
    folder.mkdir()
    for file, data in files.items():
        write_beside(folder / file, data)
    return JSONResponse({"job": f"{name}/job"})


# The last one takes every name of a job.
_WAYS: tuple[Way, ...] = (
    ("/api/jobs", _jobs, False),
    ("/api/sections", _sections, False),
    ("/api/new", _new, True),
    ("/api/job/{job:path}/edit", _edit, True),
    ("/api/job/{job:path}/back/{way}", _back, True),
    ("/api/job/{job:path}/upload", _upload, True),
    ("/api/job/{job:path}", _job, False),
)


def new_token() -> str:
    """Return a token that nobody guesses."""
    return secrets.token_urlsafe(18)
