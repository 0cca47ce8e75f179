"""The drawing of a job: its artwork, with what the job sets over it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stopout.errors import ArtworkError

if TYPE_CHECKING:
    from stopout.library.job_file import JobFile
    from stopout.values import Drawing


def drawing_of(read: JobFile) -> Drawing:
    """Read a job's artwork and set its words, rules, frames and codes.

    Parameters
    ----------
    read : JobFile
        From `read_job`.

    Raises
    ------
    JobError
        If artwork cannot be read or an element cannot be set, with the job file's line.
    """
    from stopout.artwork import open_artwork
    from stopout.jobs import job_error

    job, folder = read.job, read.folder
    fonts = [folder / name for name in job.artwork.fonts]
    below: Drawing | None = None
    if job.artwork.file:
        try:
            below = open_artwork(folder / job.artwork.file, job.artwork, job.blank, fonts=fonts)
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
