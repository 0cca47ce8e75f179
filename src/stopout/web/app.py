"""The page's answers: jobs of a folder read, edited, drafted and planned."""

from __future__ import annotations

import asyncio
import json
import secrets
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from stopout.errors import StopoutError
from stopout.web.controls import mistakes_of, sections, values_of
from stopout.web.drafts import Bench
from stopout.web.edits import Edit, applied
from stopout.web.guard import Guard
from stopout.web.place import ChangedError, NoSuchFileError, Place, Text, write_beside

_PAGE = Path(__file__).parent / "page"
_MOST_UNDO = 200
_UPLOADS = (".svg", ".pdf", ".dxf", ".png", ".jpg", ".jpeg", ".tif", ".tiff", ".bmp", ".webp",
            ".csv", ".ttf", ".otf")  # fmt: skip
_MOST_UPLOAD = 50_000_000
_STARTERS = ("plate", "sign")


@dataclass(slots=True)
class _Past:
    """Texts that a job had, for undo and redo; each with the hash of what followed it."""

    undo: list[tuple[str, str]] = field(default_factory=list)
    redo: list[tuple[str, str]] = field(default_factory=list)


@dataclass(slots=True)
class _Desk:
    """What the page's answers share."""

    place: Place
    bench: Bench
    book: str | None
    past: dict[str, _Past] = field(default_factory=dict)
    locks: dict[str, asyncio.Lock] = field(default_factory=dict)

    def lock(self, job: str) -> asyncio.Lock:
        """One writer at a time for each job."""
        return self.locks.setdefault(job, asyncio.Lock())


def make_app(
    folder: Path,
    *,
    hosts: set[str],
    token: str | None = None,
    book: str | None = None,
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
    book : str, optional
        The shop book.
    """
    desk = _Desk(place=Place(folder), bench=Bench(), book=book)

    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        desk.bench.warm()
        yield
        desk.bench.end()

    def over(answer: Callable[[_Desk, Request], Awaitable[Response]]) -> Any:
        async def answered(request: Request) -> Response:
            try:
                return await answer(desk, request)
            except NoSuchFileError as fault:
                return JSONResponse({"error": str(fault)}, 404)
            except ChangedError as fault:
                return JSONResponse({"error": str(fault)}, 409)
            except (StopoutError, _BadRequestError) as fault:
                return JSONResponse({"error": str(fault)}, 400)

        return answered

    routes = [
        Route("/", _index),
        Route("/api/jobs", over(_jobs)),
        Route("/api/sections", over(_sections)),
        Route("/api/new", over(_new), methods=["POST"]),
        Route("/api/job/{job:path}/stamp", over(_stamp)),
        Route("/api/job/{job:path}/edit", over(_edit), methods=["POST"]),
        Route("/api/job/{job:path}/back/{way}", over(_back), methods=["POST"]),
        Route("/api/job/{job:path}/draft", over(_draft), methods=["POST"]),
        Route("/api/job/{job:path}/at", over(_at), methods=["POST"]),
        Route("/api/job/{job:path}/plan", over(_plan), methods=["POST"]),
        Route("/api/job/{job:path}/stop", over(_stop), methods=["POST"]),
        Route("/api/job/{job:path}/progress", over(_progress)),
        Route("/api/job/{job:path}/upload", over(_upload), methods=["POST"]),
        Route("/api/job/{job:path}/files", over(_files)),
        Route("/api/job/{job:path}/file/{name}", over(_file)),
        Route("/api/job/{job:path}", over(_job)),
        Mount("/page", StaticFiles(directory=_PAGE)),
    ]
    return Guard(Starlette(routes=routes, lifespan=life), hosts=hosts, token=token)


class _BadRequestError(Exception):
    """A request that says nothing that is understood."""


async def _index(request: Request) -> Response:
    return FileResponse(_PAGE / "index.html")


async def _jobs(desk: _Desk, request: Request) -> Response:
    return JSONResponse({"jobs": [_listed(desk, job) for job in desk.place.jobs()]})


def _listed(desk: _Desk, job: str) -> dict[str, Any]:
    path = desk.place.path(job)
    plan = path.parent / f"{path.stem}-plan" / "plan.json"
    state = "drawn"
    if plan.is_file():
        state = "planned" if plan.stat().st_mtime >= path.stat().st_mtime else "planned before"
    values = values_of(desk.place.read(job).text) or {}
    said = values.get("job")
    name = said.get("name", job) if isinstance(said, dict) else job
    return {"job": job, "name": str(name), "state": state, "saved": path.stat().st_mtime}


async def _sections(desk: _Desk, request: Request) -> Response:
    return JSONResponse({"sections": sections()})


async def _job(desk: _Desk, request: Request) -> Response:
    job = request.path_params["job"]
    return _state(desk, job, desk.place.read(job))


async def _stamp(desk: _Desk, request: Request) -> Response:
    """What tells a job file from another: a page asks whether its own is still that."""
    return JSONResponse({"sha256": desk.place.read(request.path_params["job"]).sha256})


def _state(desk: _Desk, job: str, now: Text) -> Response:
    past = desk.past.get(job, _Past())
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


async def _edit(desk: _Desk, request: Request) -> Response:
    """Change one key. An edit made on an older text holds where that key is still the same."""
    job, said = request.path_params["job"], await _said(request)
    table = said.get("table")
    if not isinstance(table, list) or not all(isinstance(step, str | int) for step in table):
        raise _BadRequestError("an edit names its table")
    key = said.get("key")
    if not isinstance(key, str) or not key:
        raise _BadRequestError("an edit names its key")
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


def _written(desk: _Desk, job: str, now: Text, text: str) -> Text:
    after = desk.place.write(job, text, over=now.sha256)
    past = desk.past.setdefault(job, _Past())
    if after.sha256 != now.sha256:
        past.undo = [*past.undo, (now.text, after.sha256)][-_MOST_UNDO:]
        past.redo.clear()
    return after


async def _back(desk: _Desk, request: Request) -> Response:
    job, way = request.path_params["job"], request.path_params["way"]
    past = desk.past.setdefault(job, _Past())
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


async def _draft(desk: _Desk, request: Request) -> Response:
    return await _planned(desk, request, draft=True)


async def _plan(desk: _Desk, request: Request) -> Response:
    return await _planned(desk, request, draft=False)


async def _planned(desk: _Desk, request: Request, *, draft: bool) -> Response:
    job = request.path_params["job"]
    path = desk.place.path(job)
    said = await _said(request)
    has = [name for name in said.get("has", ()) if isinstance(name, str)]
    asked = {"path": str(path), "book": desk.book, "draft": draft, "has": has}
    answer = await desk.bench.ask(f"{'draft' if draft else 'plan'} {job}", asked)
    return JSONResponse(answer if answer is not None else {"superseded": True})


async def _at(desk: _Desk, request: Request) -> Response:
    """Read a place of the draft that is shown."""
    job, said = request.path_params["job"], await _said(request)
    place = said.get("at")
    if (
        not isinstance(place, list)
        or len(place) != 2
        or not all(isinstance(one, int | float) and abs(one) < 1e5 for one in place)
    ):
        raise _BadRequestError("a place is two numbers in mm")
    asked = {"path": str(desk.place.path(job)), "at": place}
    return JSONResponse(await desk.bench.look(f"draft {job}", asked))


async def _stop(desk: _Desk, request: Request) -> Response:
    return JSONResponse({"stopped": desk.bench.cancel(f"plan {request.path_params['job']}")})


async def _progress(desk: _Desk, request: Request) -> Response:
    """Tell the stages of a plan as they come, until it is done."""
    what = f"plan {request.path_params['job']}"

    async def told() -> AsyncIterator[str]:
        last = None
        for _ in range(3600):
            stage = desk.bench.stages.get(what)
            if stage is None and last is not None:
                break
            if stage != last and stage is not None:
                last = stage
                yield f"data: {json.dumps(stage)}\n\n"
            await asyncio.sleep(0.2)
        yield "event: end\ndata: 0\n\n"

    return StreamingResponse(told(), media_type="text/event-stream")


async def _upload(desk: _Desk, request: Request) -> Response:
    """Take a file beside the job; an existing one is only replaced if that is asked for."""
    job = request.path_params["job"]
    async with request.form(max_files=1, max_fields=4, max_part_size=_MOST_UPLOAD) as form:
        file = form.get("file")
        if file is None or isinstance(file, str):
            raise _BadRequestError("a file is due")
        name = Path((file.filename or "").replace("\\", "/")).name
        if not name.lower().endswith(_UPLOADS):
            raise _BadRequestError(f"'{name[:60]}' is no artwork, font or table of rows")
        path = desk.place.beside(job, name)
        if path.exists() and form.get("replace") != "yes":
            return JSONResponse({"exists": name}, 409)
        data = await file.read()
        if len(data) > _MOST_UPLOAD:
            raise _BadRequestError(f"more than {_MOST_UPLOAD // 1_000_000} MB are not taken")
        await run_in_threadpool(write_beside, path, data)
    return JSONResponse({"name": name})


async def _files(desk: _Desk, request: Request) -> Response:
    path = desk.place.path(request.path_params["job"])
    folder = path.parent / f"{path.stem}-plan"
    names = sorted(file.name for file in folder.iterdir()) if folder.is_dir() else []
    return JSONResponse({"files": [name for name in names if not name.startswith(".")]})


async def _file(desk: _Desk, request: Request) -> Response:
    name = request.path_params["name"]
    file = desk.place.in_plan(request.path_params["job"], name)
    # A sheet for the phone is a page of its own; it is saved, not run as a part of this one.
    return FileResponse(file, filename=name)


async def _new(desk: _Desk, request: Request) -> Response:
    said = await _said(request)
    name, kind = str(said.get("name", "")).strip(), said.get("kind")
    if kind not in _STARTERS:
        raise _BadRequestError("a new job is a plate or a sign")
    folder = desk.place.folder / name
    if not name or folder.exists() or folder.parent != desk.place.folder or name.startswith("."):
        raise _BadRequestError("give the job a name of its own, without slashes")
    starters = resources.files("stopout") / "cli" / "starters" / str(kind)
    files = {item.name: item.read_bytes() for item in starters.iterdir() if item.is_file()}
    folder.mkdir()
    for file, data in files.items():
        write_beside(folder / file, data)
    return JSONResponse({"job": f"{name}/job"})


async def _said(request: Request) -> dict[str, Any]:
    try:
        said = await request.json()
    except (ValueError, RecursionError):
        raise _BadRequestError("the request is no JSON") from None
    if not isinstance(said, dict):
        raise _BadRequestError("the request is no JSON object")
    return said


def new_token() -> str:
    """Return a token that nobody guesses."""
    return secrets.token_urlsafe(18)
