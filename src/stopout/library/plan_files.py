"""The files of a plan's folder, and writing them."""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable, Mapping
from functools import partial
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import OutputError
from stopout.folders import check_free, listed, write_folder
from stopout.library.cores import Work, on_all_cores
from stopout.plan_file import PLAN_FILE

if TYPE_CHECKING:
    from stopout.planning import Plan

# Vertices of all openings from which the preview is worth a process of its own.
_LARGE = 5000


def write_plan(
    plan: Plan,
    folder: str | PathLike[str],
    *,
    date: datetime.date | None = None,
    replace: bool = False,
) -> tuple[str, ...]:
    """Write a plan's folder, whole or not at all.

    Parameters
    ----------
    plan : Plan
        From `plan_job`.
    folder : str or path
        Where to.
    date : date, optional
        Printed on the sheet; today's where it is left out.
    replace : bool
        Whether an earlier plan may be replaced; files of the user's own stay.

    Returns
    -------
    tuple of str
        What was kept beside the plan, each in a sentence.

    Raises
    ------
    OutputError
        If the folder holds a plan or something else, or cannot be written.
    """
    target = Path(folder)
    kept = check_plan_folder(target, replace=replace, draft=plan.is_draft)
    files = plan_files(plan, date=date)
    return kept + put_plan(target, files, replace=replace and not plan.is_draft)


def check_plan_folder(folder: Path, *, replace: bool, draft: bool = False) -> tuple[str, ...]:
    """Refuse a folder that may not be written, before any work is done; tell what is kept.

    A draft gives way to whatever comes next, but never takes the place of a plan: its preview would
    stand for a plan whose programs somebody may have run.

    Raises
    ------
    OutputError
        If it holds a plan or something else.
    """
    if folder.is_dir() and (folder / PLAN_FILE).is_file() and not _holds_draft(folder):
        if draft:
            raise OutputError(
                f"{folder} holds a plan, and a draft does not take its place; leave --out out for "
                "a folder of its own"
            )
        if not replace:
            raise OutputError(
                f"{folder} holds a plan already; give --force to replace it, or --out"
            )
    return check_free(folder, replace_with=_head(folder, replace=replace))


def put_plan(folder: Path, files: Mapping[str, bytes], *, replace: bool) -> tuple[str, ...]:
    """Write a plan's files, whole or not at all, over a draft or (if `replace`) an earlier plan.

    Parameters
    ----------
    folder : Path
        Checked by `check_plan_folder`.
    files : mapping of str to bytes
        From `plan_files`.
    replace : bool
        Whether an earlier plan may be replaced.

    Returns
    -------
    tuple of str
        What was kept beside the plan, each in a sentence.
    """
    return write_folder(folder, files, replace_with=_head(folder, replace=replace))


def _head(folder: Path, *, replace: bool) -> str | None:
    """The file by which what may be replaced is known; None where nothing may."""
    return PLAN_FILE if replace or _holds_draft(folder) else None


def _holds_draft(folder: Path) -> bool:
    """Tell whether a folder holds a draft of ours."""
    try:
        content = json.loads((folder / PLAN_FILE).read_bytes())
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(content, dict) and content.get("draft") is True


def plan_files(
    plan: Plan,
    *,
    date: datetime.date | None = None,
    tell: Callable[[str], None] = lambda stage: None,
) -> dict[str, bytes]:
    """Make the files of a plan's folder.

    Parameters
    ----------
    plan : Plan
        From `plan_job`.
    date : date, optional
        Printed on the sheet; today's where it is left out.
    tell : callable
        Is told in a few words which stage begins.

    Returns
    -------
    dict of str to bytes
        By name; plan.json, which lists the others with their digests, is the first. Of a draft
        these are plan.json and preview.png.
    """
    from stopout.plan_file import summarise
    from stopout.planning.opening.apart import vertices_of

    day = datetime.date.today() if date is None else date
    summary = summarise(plan, sheets=not plan.is_draft)
    if not plan.is_draft:
        from stopout.sheet import amounts

        summary["amounts"] = amounts(plan)
    files = {PLAN_FILE: (json.dumps(summary, indent=2) + "\n").encode()}
    if plan.is_draft:
        return listed(PLAN_FILE, files | _preview(plan, tell))
    works: list[Work[dict[str, bytes]]] = [
        partial(_sheet, plan, day.isoformat()),
        partial(_preview, plan),
        partial(_drawn, plan, lambda name: name),
        *(
            partial(_drawn, panel, partial(plan.panel_file, panel=number))
            for number, panel in plan.numbered_panels
        ),
    ]
    is_large = plan.panels or vertices_of(*(coat.opening for coat in plan.coats)) >= _LARGE
    for made in on_all_cores(works, tell, None if is_large else 1):
        files |= made
    return listed(PLAN_FILE, files)


def _sheet(plan: Plan, date: str, tell: Callable[[str], None]) -> dict[str, bytes]:
    tell("typesetting the process sheet")
    return sheet_files(plan, date=date)


def _preview(plan: Plan, tell: Callable[[str], None]) -> dict[str, bytes]:
    from stopout.pictures import preview_png
    from stopout.pictures.piece.of_plan import preview_scene

    if not plan.coats:
        return {}
    tell("drawing the preview")
    return {"preview.png": preview_png(preview_scene(plan))}


def _drawn(
    panel: Plan, called: Callable[[str], str], tell: Callable[[str], None]
) -> dict[str, bytes]:
    tell("drawing the masks")
    return {called(name): data for name, data in _work_files(panel).items()}


def sheet_files(plan: Plan, *, date: str) -> dict[str, bytes]:
    """Make the files of a plan's sheet, with the statements of its hazards.

    Parameters
    ----------
    plan : Plan
        A finished plan, stopped or not.
    date : str
        ISO 8601, printed on every page.

    Raises
    ------
    TableError
        If the table lacks a statement that one of the plan's hazards names.
    """
    from stopout import sheet
    from stopout.tables import load_statements

    codes = [code for h in plan.hazards for code in (*h.statements, *h.precautions)]
    statements = {entry.code: entry.text for entry in load_statements(tuple(codes))}
    return sheet.sheet_files(plan, date=date, statements=statements)


def _work_files(made: Plan) -> dict[str, bytes]:
    """Return what opens the coats of one piece or panel: masks, programs, films, cut lines."""
    from stopout.pictures import mask_png, mask_svg
    from stopout.planning import file_names

    blank = made.job.blank
    files: dict[str, bytes] = {}
    for coat in () if made.is_draft else made.coats:
        names = file_names(coat)
        size = {"width_mm": blank.width_mm, "height_mm": blank.height_mm}
        title = f"{made.job.name}: openings of coat {coat.number}, as worked"
        files[f"mask-{coat.number}.svg"] = mask_svg(coat.opening, title=title, **size)
        files[f"mask-{coat.number}.png"] = mask_png(coat.opening, **size)
        if names["program"] is not None and coat.program is not None:
            files[names["program"]] = coat.program.encode("ascii")
        if coat.prints:
            from stopout.sheet import film_pdf

            files[f"film-{coat.number}.pdf"] = film_pdf(made, coat)
        if coat.cuts and coat.drawn is not None and made.job.stencil is not None:
            from stopout.pictures import cut_svg

            files[f"cut-{coat.number}.svg"] = cut_svg(
                coat.drawn,
                overrun_mm=made.job.stencil.overrun_mm,
                margin_mm=made.job.stencil.margin_mm,
                title=f"{made.job.name}: cut lines of coat {coat.number}, as worked",
                face=made.face,
                keeps_drawn=made.front is not None,
                **size,
            )
    if made.bounds_program is not None:
        files["bounds.nc"] = made.bounds_program.encode("ascii")
    return files
