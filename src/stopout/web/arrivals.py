"""What comes to a folder from outside: files put beside a job, and new jobs."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response

from stopout.jobs import ARTWORK_ENDINGS
from stopout.web.controls import values_of
from stopout.web.desk import BadRequestError, Desk, Way, said_in
from stopout.web.edits import Edit, applied
from stopout.web.place import NoSuchFileError, write_beside

_UPLOADS = (*ARTWORK_ENDINGS, ".csv", ".ttf", ".otf")
_MOST_BYTES, _MOST_FILES = 50_000_000, 500
# A phone on a weak network sends a picture in this; who sends slower on purpose is let go.
_LONGEST_S = 120.0
_STARTERS = ("plate", "sign")


async def _upload(desk: Desk, request: Request) -> Response:
    """Take a file beside the job; an existing one is only replaced if that is asked for.

    It is kept as it came: what it says is read by the process that drafts, in its bounds.
    """
    job = request.path_params["job"]
    try:
        async with asyncio.timeout(_LONGEST_S):
            return await _put(desk, job, request)
    except TimeoutError:
        return JSONResponse({"error": f"the file did not arrive within {_LONGEST_S:g} s"}, 408)
    except ClientDisconnect:
        return JSONResponse({"error": "the file did not arrive whole"}, 400)


async def _put(desk: Desk, job: str, request: Request) -> Response:
    async with request.form(max_files=1, max_fields=4, max_part_size=_MOST_BYTES) as form:
        file = form.get("file")
        if file is None or isinstance(file, str):
            raise BadRequestError("a file is due")
        name = Path((file.filename or "").replace("\\", "/")).name
        if not name.lower().endswith(_UPLOADS):
            raise BadRequestError(f"'{name[:60]}' is no artwork, font or table of rows")
        path = desk.place.beside(job, name)
        if path.exists() and form.get("replace") != "yes":
            return JSONResponse({"exists": name}, 409)
        if len(list(path.parent.iterdir())) >= _MOST_FILES:
            raise BadRequestError(f"there are {_MOST_FILES} files beside this job; tidy up first")
        data = await file.read()
        if len(data) > _MOST_BYTES:
            raise BadRequestError(f"more than {_MOST_BYTES // 1_000_000} MB are not taken")
        await run_in_threadpool(write_beside, path, data)
    return JSONResponse({"name": name})


async def _new(desk: Desk, request: Request) -> Response:
    """Make a job in a folder of its own: from a starter, or as a copy of one that is here."""
    said = await said_in(request)
    name, kind = str(said.get("name", "")).strip(), said.get("kind")
    if "copy" not in said and kind not in _STARTERS:
        raise BadRequestError("a new job is a plate, a sign, or a copy")
    folder = desk.place.folder / name
    if not name or folder.parent != desk.place.folder or name.startswith("."):
        raise BadRequestError("give the job a name, without slashes and with no dot at its start")
    if folder.exists():
        raise BadRequestError(f"'{name}' is here already; give the job another name")
    files = _copied(desk, str(said["copy"])) if "copy" in said else _starter(str(kind))
    text = applied(files["job.toml"].decode(), Edit(("job",), "name", name))
    files["job.toml"] = text.encode()
    await run_in_threadpool(_made, folder, files)
    return JSONResponse({"job": f"{name}/job"})


def _made(folder: Path, files: dict[str, bytes]) -> None:
    folder.mkdir()
    # The job last: a folder without one is no job yet.
    for file in sorted(files, key=lambda one: one == "job.toml"):
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        write_beside(folder / file, files[file])


def _starter(kind: str) -> dict[str, bytes]:
    starters = resources.files("stopout") / "cli" / "starters" / kind
    return {item.name: item.read_bytes() for item in starters.iterdir() if item.is_file()}


def _copied(desk: Desk, job: str) -> dict[str, bytes]:
    """Return the files of a job: its own, and those that it names."""
    text, home = desk.place.read(job).text, desk.place.path(job).parent
    files = {}
    for said in _words(values_of(text)):
        file = home / said
        if file.suffix.lower() not in (*_UPLOADS, ".toml") or said in files:
            continue
        inside = file.is_file() and file.resolve().is_relative_to(home.resolve())
        if inside and ".." not in file.parts and file.stat().st_size <= _MOST_BYTES:
            files[said] = file.read_bytes()
    if len(files) >= _MOST_FILES:
        raise NoSuchFileError(f"'{job}' names more than {_MOST_FILES} files")
    return {**files, "job.toml": text.encode()}


def _words(value: Any) -> Iterator[str]:
    """All texts of a job file that could name a file."""
    if isinstance(value, str) and 0 < len(value) <= 200 and "\0" not in value:
        yield value
    elif isinstance(value, dict | list):
        for one in value.values() if isinstance(value, dict) else value:
            yield from _words(one)


WAYS: tuple[Way, ...] = (("/api/new", _new, True), ("/api/job/{job:path}/upload", _upload, True))
