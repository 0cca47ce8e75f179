"""Scans that are dropped in: read as a coupon or held against the plan, by the command itself.

The command runs in a process of its own with a budget of time and memory; whatever a scan does to
it, the server stays. Scan, picture and words are kept beside the job, in a folder of their own.
"""

from __future__ import annotations

import asyncio
import json
import os
import re
import shutil
import signal
import sys
from asyncio.subprocess import DEVNULL, PIPE, Process
from contextlib import suppress
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from stopout.web.desk import BadRequestError, Desk, Way
from stopout.web.place import NoSuchFileError, write_beside

_ENDINGS = (".png", ".jpg", ".jpeg", ".tif", ".tiff")
_RUN = (sys.executable, "-c", "from stopout.cli import main; main()")
_TIME_S, _MEMORY, _WALL_S = 120, "4GiB", 900
_MOST_SCANS, _MOST_SAID, _MOST_AT_ONCE = 200, 4000, 2
_TOLD = ("what", "scan", "picture", "words", "cautions", "faults", "kept")
# What may be given of each command, besides the scan; as the command line takes it.
_GIVEN = {
    "inspect": ("resolution", "tone", "stage", "coat", "depth", "time", "temperature", "date"),
    "read": ("resolution", "tone", "bar", "depth", "time", "temperature", "date"),
}
# What the command's options are called on the page.
_CALLED = {
    "resolution": "Resolution",
    "tone": "Grey levels",
    "stage": "Stage",
    "through-front": "Scanned through its front",
    "bar": "Scale bar of a photograph",
    "depth": "Depth by hand",
    "time": "Time in the bath",
    "temperature": "Bath as measured",
    "keep": "Keep the numbers in the shop book",
    "coupon": "What was scanned",
}
# An option by itself; those of a command that is to be typed stay as they are.
_OPTION = re.compile(r"stopout [a-z]+ [^;.:]*|--([a-z-]+)")
# What and against what, all that may be given, and two boxes to tick.
_MOST_FIELDS = 4 + len({name for names in _GIVEN.values() for name in names})
_VALUE = re.compile(r"[\w .,:+=%-]{1,40}", re.UNICODE)
_NAME = re.compile(r"[^\w.()+-]+", re.UNICODE)


async def _scan(desk: Desk, request: Request) -> Response:
    """Take a scan, read it, and tell what it shows; a scan that is refused is not kept."""
    job = request.path_params["job"]
    path = desk.place.path(job)
    if job in desk.readings:
        raise BadRequestError("a scan of this job is being read; wait for it, or stop it")
    if len(desk.readings) >= _MOST_AT_ONCE:
        raise BadRequestError("scans of other jobs are being read; wait for one of them")
    desk.readings[job] = None
    try:
        async with request.form(max_files=1, max_fields=_MOST_FIELDS) as form:
            file = form.get("file")
            if not isinstance(file, UploadFile):
                raise BadRequestError("a scan is due")
            words = await run_in_threadpool(_words, desk, job, form)
            scan = await run_in_threadpool(_put, desk.place.kept(job, "scans"), file)
        told = await _told(desk, job, words, scan, path.parent)
    finally:
        desk.readings.pop(job, None)
    return JSONResponse(told, 400 if "error" in told else 200)


async def _told(desk: Desk, job: str, words: list[str], scan: Path, home: Path) -> dict[str, Any]:
    """Read the scan that was put there and keep what it told; else take it away again."""
    picture = scan.with_name(f"{scan.stem}-{words[0]}.png")
    # By names within the job's folder: they stand in what is told.
    shown = [str(one.relative_to(home)) for one in (scan, picture)]
    told = None
    try:
        told = await _read(desk, job, [*words, shown[0], "--picture", shown[1]], home)
    finally:
        if told is None or "error" in told:
            scan.unlink(missing_ok=True)
            picture.unlink(missing_ok=True)
    if told is None or "error" in told:
        return told or {"stopped": True}
    result = {**told, "scan": scan.name, "what": words[0], "picture": picture.name}
    text = json.dumps(result, indent=2, ensure_ascii=False) + "\n"
    await run_in_threadpool(write_beside, scan.with_name(f"{scan.stem}.json"), text.encode())
    return _for_the_page(result)


def _for_the_page(result: dict[str, Any]) -> dict[str, Any]:
    """What is told of a scan, by the names that the page's controls have."""
    told = {key: result.get(key) for key in _TOLD}
    for key in ("words", "cautions"):
        told[key] = [_called(str(line)) for line in told[key] or []]
    return told


def _called(words: str) -> str:
    return _OPTION.sub(lambda m: f'"{_CALLED[m[1]]}"' if m[1] in _CALLED else m[0], words)


def _words(desk: Desk, job: str, form: FormData) -> list[str]:
    """The command's words; each value stands in one with its option, so that it can be no other."""
    what = str(form.get("what", ""))
    if what not in _GIVEN:
        raise BadRequestError("a scan is one of a coupon (read) or of the piece (inspect)")
    path = desk.place.path(job)
    words = [what, "--json"]
    if what == "inspect":
        words.append(f"--plan={desk.place.in_plan(job, 'plan.json').parent.name}")
    else:
        coupon = str(form.get("coupon", ""))
        if coupon not in _coupons(path):
            raise BadRequestError("there is no such coupon beside the job")
        words.append(f"--coupon={coupon}")
    for name in _GIVEN[what]:
        value = str(form.get(name, "")).strip()
        if value and not _VALUE.fullmatch(value):
            raise BadRequestError(f"{name}: '{value[:40]}' is no value")
        # Several depths are one answer.
        parts = re.split(r"\s*;\s*", value) if name == "depth" else [value]
        words += [f"--{name}={part}" for part in parts if part]
    if what == "inspect" and form.get("through-front") == "yes":
        words.append("--through-front")
    if form.get("keep") == "yes":
        if desk.book is None:
            raise BadRequestError("the shop book is left alone (--no-book)")
        words += ["--keep", f"--book={desk.book}"]
    return words


def _coupons(path: Path) -> list[str]:
    """Folders beside a job that hold a coupon."""
    found = [file.parent for file in path.parent.glob("*/coupon.json")]
    return sorted(one.name for one in found if not one.is_symlink() and one.name[0] not in "._-")


def _put(folder: Path, file: UploadFile) -> Path:
    """Keep the scan under a name of its own; nothing that is there is replaced."""
    given = Path((file.filename or "").replace("\\", "/")).name
    stem, ending = _NAME.sub("-", Path(given).stem).strip(".-_")[:60], Path(given).suffix.lower()
    if ending not in _ENDINGS:
        raise BadRequestError(f"'{given[:60]}' is no scan: PNG, JPEG or TIFF is due")
    folder.mkdir(exist_ok=True)
    if len(list(folder.glob("*.json"))) >= _MOST_SCANS:
        raise BadRequestError(f"{folder.name} holds {_MOST_SCANS} scans; move old ones away")
    for k in range(1, _MOST_SCANS + 2):
        name = f"{stem or 'scan'}{'' if k == 1 else f'-{k}'}"
        if not any(folder.glob(f"{name}.*")):
            break
    path = folder / f"{name}{ending}"
    with path.open("xb") as stream:
        shutil.copyfileobj(file.file, stream)
    return path


async def _read(desk: Desk, job: str, words: list[str], home: Path) -> dict[str, Any] | None:
    """Run the command; None where it was stopped."""
    budget = ["--time", f"{_TIME_S}s", "--memory", _MEMORY]
    process = await asyncio.create_subprocess_exec(
        *(*_RUN, *budget, *words),
        cwd=home,
        stdin=DEVNULL,
        stdout=PIPE,
        stderr=PIPE,
        start_new_session=True,
    )
    try:
        if job in desk.readings:
            desk.readings[job] = process
            out, said = await asyncio.wait_for(process.communicate(), _WALL_S)
    except TimeoutError:
        return {"error": f"the scan was not read within {_WALL_S // 60} minutes; crop it"}
    finally:
        _kill(process)
        # Also where it was stopped before it began: else its pipes outlive the server's loop.
        await process.communicate()
    if job not in desk.readings:
        return None
    with suppress(ValueError):
        if process.returncode in (0, 1) and isinstance(told := json.loads(out), dict):
            return told
    refused = said.decode("utf-8", "replace").strip()[-_MOST_SAID:]
    return {"error": _called(refused) or "the scan could not be read; nothing of it was kept"}


def _kill(process: Process | None) -> None:
    """End a reading and all that it has started, if it is still at it."""
    if process is not None and process.returncode is None:
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, signal.SIGKILL)


def end(desk: Desk) -> None:
    """End every reading."""
    for process in desk.readings.values():
        _kill(process)


async def _stop(desk: Desk, request: Request) -> Response:
    job = request.path_params["job"]
    is_reading = job in desk.readings
    _kill(desk.readings.pop(job, None))
    return JSONResponse({"stopped": is_reading})


async def _scans(desk: Desk, request: Request) -> Response:
    """What was read of a job so far, newest first, and what a scan can be held against."""
    job = request.path_params["job"]
    path, folder = desk.place.path(job), desk.place.kept(job, "scans")
    found = await run_in_threadpool(_earlier, folder)
    plan = path.parent / f"{path.stem}-plan" / "plan.json"
    return JSONResponse(
        {
            "scans": found,
            "coupons": _coupons(path),
            "can_inspect": plan.is_file(),
            "is_reading": job in desk.readings,
        }
    )


def _earlier(folder: Path) -> list[dict[str, Any]]:
    files = sorted(folder.glob("*.json"), key=lambda file: -file.stat().st_mtime)
    found = []
    for file in files[:_MOST_SCANS]:
        with suppress(OSError, ValueError, RecursionError):
            told = json.loads(file.read_bytes())
            if isinstance(told, dict) and isinstance(told.get("words"), list):
                found.append(_for_the_page(told))
    return found


async def _picture(desk: Desk, request: Request) -> Response:
    """A picture that a reading has drawn."""
    job, name = request.path_params["job"], request.path_params["name"]
    file = desk.place.kept(job, "scans") / name
    if not desk.place.is_name(name) or not name.endswith(".png"):
        raise NoSuchFileError(f"'{name[:60]}' is no picture of a scan")
    if file.is_symlink() or not file.is_file():
        raise NoSuchFileError(f"there is no picture '{name[:60]}'")
    return FileResponse(file, media_type="image/png")


WAYS: tuple[Way, ...] = (
    ("/api/job/{job:path}/scan", _scan, True),
    ("/api/job/{job:path}/stop-reading", _stop, True),
    ("/api/job/{job:path}/scans", _scans, False),
    ("/api/job/{job:path}/scan/{name}", _picture, False),
)
