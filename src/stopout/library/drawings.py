"""The drawing of a job: its artwork, with what the job sets over it."""

from __future__ import annotations

import hashlib
import pickle
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import ArtworkError
from stopout.planning.memory import Memory

if TYPE_CHECKING:
    from stopout.library.job_file import JobFile
    from stopout.values import Drawing


def drawing_of(read: JobFile, *, memory: Memory | None = None) -> Drawing:
    """Read a job's artwork and set its words, rules, frames and codes.

    Parameters
    ----------
    read : JobFile
        From `read_job`.
    memory : Memory, optional
        Where artwork that was read before is remembered, by its bytes.

    Raises
    ------
    JobError
        If artwork cannot be read or an element cannot be set, with the job file's line.
    """
    from stopout.jobs import job_error

    job, folder = read.job, read.folder
    fonts = [folder / name for name in job.artwork.fonts]
    below: Drawing | None = None
    if job.artwork.file:
        try:
            below = _artwork(read, fonts, memory or Memory(0))
        except ArtworkError as error:
            raise job_error(read.path, [(("artwork", "file"), str(error))]) from None
    if not job.setting:
        assert below is not None
        return below
    from stopout.artwork.fonts.book import FontBook
    from stopout.artwork.setting.fault import SettingError
    from stopout.artwork.setting.whole import lay_setting, with_setting

    own = [folder / text.font for text in job.setting.texts if "." in text.font]
    try:
        book = FontBook([*fonts, *dict.fromkeys(own)])
        laid = lay_setting(job.setting, job.blank, job.artwork, job.coats, book)
    except SettingError as fault:
        raise job_error(read.path, [(fault.at, fault.words)]) from None
    except ArtworkError as error:
        place = next(k for k, text in enumerate(job.setting.texts) if "." in text.font)
        raise job_error(read.path, [(("text", place, "font"), str(error))]) from None
    return with_setting(below, laid, job.blank)


def _artwork(read: JobFile, fonts: list[Path], memory: Memory) -> Drawing:
    """Read a job's artwork, unless its file has been read for such a job already."""
    from stopout.artwork import open_artwork

    job, file = read.job, read.folder / read.job.artwork.file

    def opened() -> bytes:
        # Kept as bytes: each plan has regions of its own, which no other prepares meanwhile.
        return pickle.dumps(open_artwork(file, job.artwork, job.blank, fonts=fonts))

    digests = tuple(_digest(path) for path in (file, *fonts))
    if None in digests:
        return open_artwork(file, job.artwork, job.blank, fonts=fonts)
    drawing: Drawing = pickle.loads(
        memory.recall((digests, file.name, job.artwork, job.blank), opened)
    )
    return drawing


def _digest(path: Path) -> bytes | None:
    """A plain file's digest; None where reading it is for those who say what is wrong with it."""
    try:
        return hashlib.sha256(path.read_bytes()).digest() if path.is_file() else None
    except OSError:
        return None
