"""A job's draft and its plan: asked for, followed, stopped, and what they have written."""

from __future__ import annotations

import asyncio
import hashlib
import json
import time
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import (
    FileResponse,
    HTMLResponse,
    JSONResponse,
    Response,
    StreamingResponse,
)

from stopout.web.desk import BadRequestError, Desk, Way, said_in
from stopout.web.place import NoSuchFileError, Place

_FARTHEST_MM = 1e5
_LOOK_S, _PATIENCE_S = 0.25, 3.0
_LARGEST_SHEET_BYTES = 20_000_000
# What is worked from stands first; each with what it is for.
_KINDS = (
    ("clear-", "program", ""),
    ("bounds.nc", "program", "round the piece, beam off"),
    ("film-", "film", "print at 100 %"),
    ("cut-", "film", "lines to cut"),
    ("sheet.pdf", "sheet", "to print"),
    ("sheet-annex.pdf", "annex", "what is looked up"),
    ("preview.png", "picture", "the piece in a picture"),
    ("mask-", "mask", "openings as worked"),
    ("plan.json", "data", "the plan as data"),
    ("sheet.", "data", "the sheet as a page or as data"),
)


async def _draft(desk: Desk, request: Request) -> Response:
    """Draft a job: a first look, where there is one, is a line of its own before the answer."""
    job, said = request.path_params["job"], await said_in(request)
    has = [name for name in said.get("has", ()) if isinstance(name, str)]
    asked = _asked(desk, job, draft=True) | {"has": has}
    lines: asyncio.Queue[dict[str, Any] | None] = asyncio.Queue()

    async def drafted() -> None:
        try:
            answer = await desk.bench.ask(f"draft {job}", asked, lines.put_nowait)
            lines.put_nowait({"superseded": True} if answer is None else answer)
        finally:
            lines.put_nowait(None)

    async def told() -> AsyncIterator[str]:
        work = asyncio.create_task(drafted())
        while (line := await lines.get()) is not None:
            yield json.dumps(line, separators=(",", ":")) + "\n"
        await work

    return StreamingResponse(told(), media_type="application/x-ndjson")


async def _plan(desk: Desk, request: Request) -> Response:
    job = request.path_params["job"]
    answer = await desk.bench.ask(f"plan {job}", _asked(desk, job, draft=False))
    return JSONResponse(answer if answer is not None else {"superseded": True})


def _asked(desk: Desk, job: str, *, draft: bool) -> dict[str, Any]:
    return {"path": str(desk.place.path(job)), "book": desk.book_to_read, "draft": draft}


async def _at(desk: Desk, request: Request) -> Response:
    """Read a place of the draft that is shown."""
    job, said = request.path_params["job"], await said_in(request)
    at = said.get("at")
    if not isinstance(at, list) or len(at) != 2 or not all(_is_place(one) for one in at):
        raise BadRequestError("a place is two numbers in mm")
    asked = {"path": str(desk.place.path(job)), "at": at}
    return JSONResponse(await desk.bench.look(f"draft {job}", asked))


def _is_place(value: Any) -> bool:
    return type(value) in (int, float) and abs(value) < _FARTHEST_MM


async def _stop(desk: Desk, request: Request) -> Response:
    return JSONResponse({"stopped": desk.bench.cancel(f"plan {request.path_params['job']}")})


async def _progress(desk: Desk, request: Request) -> Response:
    """Tell how far a plan is, until it is done; one that has not begun is waited for a little."""
    what = f"plan {request.path_params['job']}"

    async def told() -> AsyncIterator[str]:
        last, begun = None, time.monotonic()
        while True:
            at = desk.bench.progress(what)
            if at is None and (last is not None or time.monotonic() - begun > _PATIENCE_S):
                break
            if at is not None and at != last:
                last = at
                yield f"data: {json.dumps(at)}\n\n"
            await asyncio.sleep(_LOOK_S)
        yield "event: end\ndata: 0\n\n"

    return StreamingResponse(told(), media_type="text/event-stream")


def plan_of(place: Place, job: str) -> dict[str, Any] | None:
    """Return a job's plan.json as it lies there, None where there is none that can be read."""
    try:
        content = json.loads(place.in_plan(job, "plan.json").read_bytes())
    except (NoSuchFileError, OSError, ValueError, RecursionError):
        return None
    return content if isinstance(content, dict) and not content.get("draft") else None


def is_of(plan: dict[str, Any], path: Path) -> bool:
    """Tell whether a plan is that of the job file as it is now."""
    told = plan.get("job")
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    return isinstance(told, dict) and told.get("job_sha256") == digest


async def _files(desk: Desk, request: Request) -> Response:
    job = request.path_params["job"]
    path = desk.place.path(job)
    folder = path.parent / f"{path.stem}-plan"
    names = sorted(file.name for file in folder.iterdir()) if folder.is_dir() else []
    plan = plan_of(desk.place, job)
    files = [_listed(folder / name) for name in names if not name.startswith(".")]
    files.sort(key=lambda one: one["order"])
    state = None if plan is None else plan.get("verdict", {}).get("state")
    return JSONResponse(
        {
            "files": files,
            "state": state,
            "is_current": plan is not None and is_of(plan, path),
            "sheet": (folder / "sheet.json").is_file() and plan is not None,
            "is_for_phones": bool(desk.address),
        }
    )


def _listed(file: Path) -> dict[str, Any]:
    order, kind, words = next(
        (
            (k, kind, words)
            for k, (start, kind, words) in enumerate(_KINDS)
            if file.name.startswith(start)
        ),
        (len(_KINDS), "own", ""),
    )
    size = file.stat().st_size
    return {"name": file.name, "kind": kind, "words": words, "bytes": size, "order": order}


async def _file(desk: Desk, request: Request) -> Response:
    name = request.path_params["name"]
    file = desk.place.in_plan(request.path_params["job"], name)
    # A sheet for the phone is a page of its own; it is saved, not run as a part of this one.
    return FileResponse(file, filename=name)


async def _sheet(desk: Desk, request: Request) -> Response:
    """Serve the sheet as the phone's page, made anew from its data: no page of a file is run."""
    job = request.path_params["job"]
    file = desk.place.in_plan(job, "sheet.json")
    if file.stat().st_size > _LARGEST_SHEET_BYTES:
        raise NoSuchFileError(f"the sheet of '{job}' is too large")
    page, policy = await run_in_threadpool(_page_of, file.read_bytes(), f"/api/job/{job}/record")
    # Kept by the phone, so that a tab that it puts away comes back without the bench; asked for
    # anew wherever the bench answers, so that it is never the sheet of an earlier plan.
    kept = "private, no-cache"
    return HTMLResponse(page, headers={"content-security-policy": policy, "cache-control": kept})


def _page_of(data: bytes, sends_to: str) -> tuple[bytes, str]:
    from stopout.sheet import page_policy, read_sheet, sheet_page

    sheet, date = read_sheet(data)
    policy = page_policy(is_served=True) + "; frame-ancestors 'none'"
    return sheet_page(sheet, date=date, sends_to=sends_to), policy


async def _code(desk: Desk, request: Request) -> Response:
    """A code of the sheet's address for a phone's camera; only where others are let in."""
    import io
    from urllib.parse import quote

    import segno

    job = request.path_params["job"]
    desk.place.in_plan(job, "sheet.json")
    if not desk.address:
        raise NoSuchFileError("no other device is let in; start stopout bench with --network")
    head, mark, token = desk.address.partition("?")
    made = io.BytesIO()
    code = segno.make(f"{head}sheet/{quote(job)}{mark}{token}", error="m")
    code.save(made, kind="svg", scale=4, border=4, dark="#000", light="#fff")
    return Response(made.getvalue(), media_type="image/svg+xml")


WAYS: tuple[Way, ...] = (
    ("/api/job/{job:path}/draft", _draft, True),
    ("/api/job/{job:path}/at", _at, True),
    ("/api/job/{job:path}/plan", _plan, True),
    ("/api/job/{job:path}/stop", _stop, True),
    ("/api/job/{job:path}/progress", _progress, False),
    ("/api/job/{job:path}/files", _files, False),
    ("/api/job/{job:path}/file/{name}", _file, False),
    ("/api/job/{job:path}/code", _code, False),
    ("/sheet/{job:path}", _sheet, False),
)
