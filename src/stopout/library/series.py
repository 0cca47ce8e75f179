"""A series from its rows to its panels: what is common planned once, the rest piece by piece.

Pieces are planned in processes of their own, and each is kept as soon as it is done: a run that is
ended goes on where it stood.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import JobError, Mistake
from stopout.job.fields import names_in
from stopout.job.series import Piece
from stopout.job.setting import Setting

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.job.record import Job
    from stopout.library.job_file import JobFile
    from stopout.planning import Plan
    from stopout.planning.knowledge import Knowledge
    from stopout.planning.panel.layout import Layout
    from stopout.planning.panel.whole import PlannedPiece
    from stopout.planning.plan import CoatPlan, PlacedPiece
    from stopout.values import Drawing, Finding

Tell = Callable[[str], None]
_MOST_TOLD = 20


def plan_series(
    read: JobFile,
    knowledge: Knowledge,
    *,
    outline: BaseGeometry | None,
    draft: bool,
    tell: Tell,
    workers: int | None = None,
) -> Plan:
    """Plan every piece of a job, and the panels that they lie on.

    Parameters
    ----------
    read : JobFile
        With a series or a panel; what a book gives stands in the job.
    knowledge : Knowledge
        Table entries for the job.
    outline : BaseGeometry, optional
        The blank's outline as seen.
    draft : bool
        Whether to leave the programs out.
    tell : callable
        Is told in a few words how far it is.
    workers : int, optional
        How many processes plan pieces; the machine's cores where it is left out.

    Returns
    -------
    Plan
        Of the first panel, with the further ones in `panels` and every piece in `pieces`.

    Raises
    ------
    JobError
        With the mistakes of rows, each with its line.
    PlanError
        If the pieces find no room.
    """
    from stopout.planning.panel.whole import (
        check_panel,
        layout_of,
        plan_loose,
        plan_marks,
        plan_panel,
    )

    job = read.job
    check_panel(job)
    pieces = _pieces(read, tell)
    _check_rows(read, pieces)
    layout = layout_of(job, len(pieces))
    work = _Work(read, knowledge, outline, draft)
    made = _plan_all(work, pieces, tell, workers)
    marks = plan_marks(job, layout, knowledge, draft=draft)
    plans = [
        plan_panel(
            job,
            [made[k] for k in layout.on(n)],
            layout,
            n + 1,
            knowledge,
            marks=marks,
            draft=draft,
            tell=tell,
        )
        for n in range(layout.n_panels)
    ]
    if job.panel is not None and job.panel.is_loose:
        one = plan_loose(
            job, made[0], len(pieces), knowledge, outline=outline, draft=draft, tell=tell
        )
        whole = replace(_worst_first([one, *plans]), panels=tuple(plans), are_loose=True)
    else:
        whole = replace(_worst_first(plans), panels=tuple(plans[1:]))
    work.forget()
    return replace(whole, pieces=_placed(job, pieces, layout))


def _pieces(read: JobFile, tell: Tell) -> Sequence[Piece]:
    """A piece for each row; without rows, numbered ones."""
    from stopout.library.rows import pieces_of

    job = read.job
    if job.series is not None:
        tell("reading the rows")
        return pieces_of(job, read.folder)
    count = job.quantity + job.spares
    return [Piece(number=str(k + 1).zfill(len(str(count)))) for k in range(count)]


def _placed(job: Job, pieces: Sequence[Piece], layout: Layout) -> tuple[PlacedPiece, ...]:
    from stopout.planning.plan import PlacedPiece

    return tuple(
        PlacedPiece(
            number=pieces[k].number,
            fields=pieces[k].fields,
            panel=n + 1,
            at_mm=layout.places_mm[k - layout.on(n).start],
            size_mm=(job.blank.width_mm, job.blank.height_mm),
        )
        for n in range(layout.n_panels)
        for k in layout.on(n)
    )


def _worst_first(plans: Sequence[Plan]) -> Plan:
    """The first panel's plan, stopped where any panel is, with that panel's verdict."""
    stopped = next((plan for plan in plans if plan.is_stopped), None)
    if stopped is None or stopped is plans[0]:
        return plans[0]
    coats = tuple(replace(coat, program=None, prints=False, cuts=False) for coat in plans[0].coats)
    return replace(
        plans[0],
        coats=coats,
        bounds_program=None,
        findings=stopped.findings,
        verdict=stopped.verdict,
    )


def _check_rows(read: JobFile, pieces: Sequence[Piece]) -> None:
    """Set the words and write the codes of every row, before anything is planned."""
    from stopout.artwork.setting.codes import code_modules
    from stopout.artwork.setting.fault import SettingError
    from stopout.artwork.setting.text import lay_out
    from stopout.library.drawings import fonts_of

    own, fonts, mistakes = _own(read.job.setting), fonts_of(read), list[Mistake]()
    for place, piece in enumerate(pieces, start=1):
        filled = own.filled(dict(piece.fields))
        for table, number, element in filled.placed():
            try:
                if table == "text":
                    lay_out(element, fonts, (0.0, 0.0))  # type: ignore[arg-type]
                else:
                    code_modules(element.content, element.kind)  # type: ignore[union-attr]
            except SettingError as fault:
                where = f"row {place} ({piece.number}), {table}[{number + 1}].{fault.key}"
                mistakes.append(Mistake(field=where, message=fault.words))
        if len(mistakes) >= _MOST_TOLD:
            break
    if mistakes:
        raise JobError(str(read.path), tuple(mistakes))


def _own(setting: Setting) -> Setting:
    """What of a setting differs from piece to piece."""
    return Setting(
        texts=tuple(text for text in setting.texts if names_in(text.words)),
        codes=tuple(code for code in setting.codes if names_in(code.content)),
    )


def _common(setting: Setting) -> Setting:
    return replace(
        setting,
        texts=tuple(text for text in setting.texts if not names_in(text.words)),
        codes=tuple(code for code in setting.codes if not names_in(code.content)),
    )


@dataclass(slots=True)
class _Work:
    """What is needed to plan a piece, and where what is done is kept."""

    read: JobFile
    knowledge: Knowledge
    outline: BaseGeometry | None
    draft: bool
    _kept: Path | None = None

    @property
    def job(self) -> Job:
        return self.read.job

    def coats(self, drawing: Drawing) -> tuple[CoatPlan, tuple[Finding, ...]]:
        """Plan the coat of a drawing on the piece's blank."""
        from stopout.planning.road.whole import plan_coats

        coats, findings = plan_coats(
            self.job, drawing, self.knowledge, outline=self.outline, draft=self.draft
        )
        return coats[0], tuple(findings)

    def drawing(self, setting: Setting, *, with_artwork: bool) -> Drawing:
        """Draw a setting, over the job's artwork or alone."""
        from stopout.library.drawings import drawing_of

        artwork = self.job.artwork if with_artwork else replace(self.job.artwork, file="")
        job = replace(self.job, setting=setting, artwork=artwork)
        return drawing_of(replace(self.read, job=job))

    def folder(self) -> Path:
        """Where pieces are kept until the series is done: the user's cache, by all that counts."""
        if self._kept is None:
            from platformdirs import user_cache_path

            import stopout
            from stopout.library.drawings import files_of

            said = hashlib.sha256(
                repr((stopout.__version__, self.job, self.knowledge, self.draft)).encode()
            )
            for path in files_of(self.read):
                said.update(path.read_bytes())
            self._kept = user_cache_path("stopout") / "series" / said.hexdigest()[:32]
            self._kept.mkdir(parents=True, exist_ok=True, mode=0o700)
        return self._kept

    def forget(self) -> None:
        """Remove what was kept of a series that is done."""
        folder = self.folder()
        for path in folder.iterdir():
            with suppress(OSError):
                path.unlink()
        with suppress(OSError):
            folder.rmdir()


def _plan_all(
    work: _Work, pieces: Sequence[Piece], tell: Tell, workers: int | None
) -> list[PlannedPiece]:
    """Plan every piece that differs, once, on all cores."""
    from stopout.planning.panel.whole import PlannedPiece

    setting = work.job.setting
    own = _own(setting)
    shared = _shared_part(work, pieces, tell) if own else None
    settings = {piece: (own if shared else setting).filled(dict(piece.fields)) for piece in pieces}
    wanted = list(dict.fromkeys(settings.values()))
    done: dict[Setting, tuple[Drawing, CoatPlan, tuple[Finding, ...]]] = {}
    for setting_, result in _in_processes(work, wanted, shared is None, tell, workers):
        done[setting_] = result
    made = []
    for piece in pieces:
        drawing, coat, findings = done[settings[piece]]
        coats: tuple[CoatPlan, ...] = (coat,)
        if shared is not None:
            common, common_coat, common_findings = shared
            drawing, coats = _together(common, drawing), (common_coat, coat)
            findings = (*common_findings, *findings)
        made.append(PlannedPiece(piece=piece, drawing=drawing, coats=coats, findings=findings))
    return made


def _together(common: Drawing, own: Drawing) -> Drawing:
    from stopout.planning.panel.joining import joined_drawing

    size = (common.width_mm, common.height_mm)
    joined = joined_drawing([(common, (0.0, 0.0)), (own, (0.0, 0.0))], size)
    return replace(joined, file=common.file, sha256=common.sha256)


def _shared_part(
    work: _Work, pieces: Sequence[Piece], tell: Tell
) -> tuple[Drawing, CoatPlan, tuple[Finding, ...]] | None:
    """Plan what all pieces have in common, where nothing of their own comes near it."""
    import shapely

    from stopout.library.drawings import laid_of
    from stopout.planning.panel.joining import reach_apart_mm

    job, common = work.job, _common(work.job.setting)
    if job.artwork.dark == "raised" or not (job.artwork.file or common):
        return None
    tell("planning what the pieces have in common")
    drawing = work.drawing(common, with_artwork=True)
    coat, findings = work.coats(drawing)
    apart = reach_apart_mm(coat, job.limits.narrowest_land_mm)
    near = shapely.union_all([drawing.dark, drawing.beyond_page]).buffer(apart)
    shapely.prepare(near)
    own = _own(job.setting)
    for piece in pieces:
        for item in laid_of(work.read, own.filled(dict(piece.fields))):
            if shapely.intersects(near, item.covers):
                return None
    return drawing, coat, findings


def _in_processes(
    work: _Work, wanted: Sequence[Setting], with_artwork: bool, tell: Tell, workers: int | None
) -> Iterator[tuple[Setting, tuple[Drawing, CoatPlan, tuple[Finding, ...]]]]:
    folder = work.folder()
    left: list[Setting] = []
    for setting in wanted:
        kept = _kept(folder, setting)
        if kept is None:
            left.append(setting)
        else:
            yield setting, kept
    count = min(workers or os.cpu_count() or 1, len(left))
    began = time.monotonic()
    if count <= 1:
        for n, setting in enumerate(left, start=1):
            tell(_how_far(n, len(left), began))
            yield setting, _plan_one(work, folder, setting, with_artwork)
        return
    with ProcessPoolExecutor(max_workers=count) as pool:
        jobs: dict[Future[None], Setting] = {
            pool.submit(_plan_and_keep, work, folder, setting, with_artwork): setting
            for setting in left
        }
        waiting = set(jobs)
        try:
            while waiting:
                ended, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                tell(_how_far(len(left) - len(waiting), len(left), began))
                for future in ended:
                    future.result()
                    kept = _kept(folder, jobs[future])
                    assert kept is not None
                    yield jobs[future], kept
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _how_far(done: int, count: int, began: float) -> str:
    spent = time.monotonic() - began
    left = spent / max(1, done) * (count - done)
    more = f", about {left / 60:.0f} min left" if left > 90 else ""
    return f"piece {done} of {count}{more}"


def _plan_and_keep(work: _Work, folder: Path, setting: Setting, with_artwork: bool) -> None:
    _plan_one(work, folder, setting, with_artwork)


def _plan_one(
    work: _Work, folder: Path, setting: Setting, with_artwork: bool
) -> tuple[Drawing, CoatPlan, tuple[Finding, ...]]:
    drawing = work.drawing(setting, with_artwork=with_artwork)
    made = (drawing, *work.coats(drawing))
    path = _path(folder, setting)
    # Written beside and renamed: a run that is ended here leaves nothing half-written.
    beside = path.with_suffix(f".{os.getpid()}")
    beside.write_bytes(pickle.dumps(made))
    beside.replace(path)
    return made


def _path(folder: Path, setting: Setting) -> Path:
    return folder / f"{hashlib.sha256(repr(setting).encode()).hexdigest()[:40]}.piece"


def _kept(folder: Path, setting: Setting) -> tuple[Drawing, CoatPlan, tuple[Finding, ...]] | None:
    """What an earlier run has kept of a piece: the user's own cache, which nobody else writes."""
    path = _path(folder, setting)
    if not path.is_file():
        return None
    made: tuple[Drawing, CoatPlan, tuple[Finding, ...]] = pickle.loads(path.read_bytes())
    return made
