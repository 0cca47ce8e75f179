"""The drawing of a job: its artwork, with what the job sets over it."""

from __future__ import annotations

import hashlib
import pickle
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import ArtworkError
from stopout.planning.memory import Memory

if TYPE_CHECKING:
    from stopout.artwork.fonts.book import FontBook
    from stopout.artwork.setting.whole import LaidElement
    from stopout.job.setting import Setting
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
    below: Drawing | None = None
    if job.artwork.file:
        fonts = [folder / name for name in job.artwork.fonts]
        try:
            below = _artwork(read, fonts, memory or Memory(0))
        except ArtworkError as error:
            raise job_error(read.path, [(("artwork", "file"), str(error))]) from None
        if not job.setting:
            return below
    from stopout.artwork.setting.whole import with_setting

    return with_setting(below, laid_of(read, job.setting), job.blank, job.artwork)


def laid_of(read: JobFile, setting: Setting) -> tuple[LaidElement, ...]:
    """Lay a setting on a job's blank.

    Raises
    ------
    JobError
        If an element cannot be set, with the job file's line.
    """
    from stopout.artwork.setting.fault import SettingError
    from stopout.artwork.setting.whole import lay_setting
    from stopout.jobs import job_error

    job = read.job
    try:
        return lay_setting(setting, job.blank, job.artwork, job.coats, fonts_of(read))
    except SettingError as fault:
        raise job_error(read.path, [(fault.at, fault.words)]) from None


def fonts_of(read: JobFile) -> FontBook:
    """Open the fonts that a job names, besides those shipped.

    Raises
    ------
    JobError
        If one is no font that can be read.
    """
    from stopout.artwork.fonts.book import FontBook
    from stopout.jobs import job_error

    job, folder = read.job, read.folder
    fonts = [folder / name for name in job.artwork.fonts]
    for place, text in enumerate(job.setting.texts):
        if "." in text.font and folder / text.font not in fonts:
            try:
                FontBook([folder / text.font])
            except ArtworkError as error:
                raise job_error(read.path, [(("text", place, "font"), str(error))]) from None
            fonts.append(folder / text.font)
    return FontBook(fonts)


def files_of(read: JobFile) -> list[Path]:
    """Return the files besides the job's own that its pieces depend on."""
    job = read.job
    names = [job.artwork.file, *job.artwork.fonts, job.blank.outline or ""]
    names += [text.font for text in job.setting.texts if "." in text.font]
    return [read.folder / name for name in dict.fromkeys(names) if name]


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
    # What the blank is made of and how thick it is says nothing of the drawing laid on it.
    blank = replace(job.blank, material="", thickness_mm=0.0, finish="bare", holes=())
    drawing: Drawing = pickle.loads(memory.recall((digests, file.name, job.artwork, blank), opened))
    return drawing


def _digest(path: Path) -> bytes | None:
    """A plain file's digest; None where reading it is for those who say what is wrong with it."""
    try:
        return hashlib.sha256(path.read_bytes()).digest() if path.is_file() else None
    except OSError:
        return None
