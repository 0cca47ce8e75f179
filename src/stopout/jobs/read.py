"""Read and validate a job file: one road from bytes to a `Job`, every mistake with its line."""

from __future__ import annotations

import hashlib
import os
import shlex
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path

from stopout.errors import JobError, Mistake
from stopout.job.record import Job
from stopout.job.shop_numbers import Equipment
from stopout.jobs.lines import Path as KeyPath
from stopout.jobs.lines import dotted, key_lines
from stopout.jobs.syntax import LONGEST_BYTES, UNQUOTED, complaint, read_source

_MOST_TOLD = 200
# Who names one of these has a drawing and wants a job of it.
ARTWORK_ENDINGS = (
    ".svg",
    ".pdf",
    ".dxf",
    ".png",
    ".jpg",
    ".jpeg",
    ".tif",
    ".tiff",
    ".bmp",
    ".webp",
)


def _nothing() -> tuple[Equipment, ...]:
    return ()


def read_job(path: Path, *, shop: Callable[[], tuple[Equipment, ...]] = _nothing) -> Job:
    """Read a job file.

    Parameters
    ----------
    path : Path
        A TOML file of at most 1 MB.
    shop : callable
        Gives what the shop keeps by name.

    Returns
    -------
    Job
        The validated job; its `sha256` is that of the file's bytes.

    Raises
    ------
    JobError
        With every mistake, its line and what would be right; also where the file cannot be read.
    """
    file = str(path)
    try:
        if path.is_dir():
            raise complaint(file, f"is a folder; name the job file in it{_jobs_in(path)}")
        # A pipe or a device would be waited for without end.
        if path.exists() and not path.is_file():
            raise complaint(file, "is not an ordinary file")
        if path.suffix.lower() in ARTWORK_ENDINGS:
            path.stat()
            raise complaint(
                file,
                "is artwork; a job that tells of the blank and the machine as well is made by: "
                f"stopout new plate MY-PLATE --artwork {shlex.quote(file)} (or new sign)",
            )
        with path.open("rb") as stream:
            data = stream.read(LONGEST_BYTES + 1)
    except FileNotFoundError:
        raise complaint(file, "is not there; check the name and the folder") from None
    except OSError as error:
        reason = os.strerror(error.errno).lower() if error.errno else "it cannot be opened"
        raise complaint(file, f"cannot be read: {reason}") from None
    except JobError:
        raise
    except ValueError:
        raise complaint(file, "is not a name that a file can have") from None
    return parse_job(data, file=file, shop=shop)


def _jobs_in(folder: Path) -> str:
    """The first job files that lie in a folder, for a person who named the folder."""
    names = sorted(one.name for one in islice(folder.glob("*.toml"), _MOST_TOLD))
    return f": {' or '.join(str(folder / name) for name in names[:3])}" if names else ""


def parse_job(
    data: bytes, *, file: str, shop: Callable[[], tuple[Equipment, ...]] = _nothing
) -> Job:
    """Validate the bytes of a job file.

    Parameters
    ----------
    data : bytes
        TOML 1.0 in UTF-8.
    file : str
        The name that messages give.
    shop : callable
        Gives what the shop keeps by name: machines, paints, trays, limits.

    Returns
    -------
    Job
        Values in mm, s, W, degC, um/min; nothing that the file leaves to tables or rules is
        filled in.

    Raises
    ------
    JobError
        With every mistake at once.
    """
    from stopout.jobs.checking.checks import check_job
    from stopout.jobs.convert import job_of
    from stopout.jobs.equipment import equipped
    from stopout.jobs.usual import unusual
    from stopout.jobs.validate import validate

    made = equipped(read_source(data, file=file), shop)
    source, found = made.source, validate(made.source)
    mistakes = [*source.mistakes, *found.mistakes, *check_job(found.tables, source)]
    # Of what the shop does not have nothing more can be said.
    mistakes = [m for m in mistakes if m.field.split(".")[0] not in made.unknown]
    # Nor of what lies in a table that has no place in such a job.
    astray = {m.field for m in mistakes if m.message.startswith("is for ")}
    mistakes = [
        m
        for m in mistakes
        if m.field in astray or m.field.replace("[", ".").split(".")[0] not in astray
    ]
    if mistakes or made.mistakes:
        raise JobError(file, _told([*made.mistakes, *mistakes]))
    job = job_of(found.tables, sha256=hashlib.sha256(data).hexdigest())
    job = replace(job, whose=tuple(made.whose.items()))
    return replace(job, findings=(*job.findings, *unusual(found.tables, source)))


def job_error(path: Path, faults: Sequence[tuple[KeyPath, str]]) -> JobError:
    """Return the error for faults that were found after a job file was read.

    Parameters
    ----------
    path : Path
        The job file, which has been read without mistakes before.
    faults : sequence of (key path, message)
        Such as (("blank", "material"), "unknown material ..."); list elements count from 0.
    """
    lines = key_lines(path.read_text(encoding="utf-8-sig"))
    mistakes = [
        Mistake(field=dotted(at), message=message, line=lines.nearest(at)) for at, message in faults
    ]
    return JobError(str(path), _told(mistakes))


def _told(mistakes: list[Mistake]) -> tuple[Mistake, ...]:
    """The mistakes in the order of their lines, each once, those without a line at the end."""
    # Where a mended value is wrong even so and the sentence says what to write, quotes and all,
    # a second sentence about the quotes would only contradict it.
    said = {
        m.line for m in mistakes if not m.message.startswith(UNQUOTED) and "write " in m.message
    }
    kept = [m for m in mistakes if not m.message.startswith(UNQUOTED) or m.line not in said]
    kept = sorted(dict.fromkeys(kept), key=lambda m: (m.line is None, m.line or 0))
    if len(kept) > _MOST_TOLD:
        more = f"{len(kept) - _MOST_TOLD} more mistakes are not listed; mend these first"
        kept = [*kept[:_MOST_TOLD], Mistake(field="job file", message=more)]
    return tuple(kept)
