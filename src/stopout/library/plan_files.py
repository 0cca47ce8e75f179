"""The files of a plan's folder, and writing them."""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import OutputError
from stopout.folders import check_free, listed, write_folder
from stopout.plan_file import PLAN_FILE

if TYPE_CHECKING:
    from stopout.planning import Plan


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
    kept = check_plan_folder(target, replace=replace)
    files = plan_files(plan, date=date)
    return kept + write_folder(target, files, replace_with=PLAN_FILE if replace else None)


def check_plan_folder(folder: Path, *, replace: bool) -> tuple[str, ...]:
    """Refuse a folder that may not be written, before any work is done; tell what is kept.

    Parameters
    ----------
    folder : Path
        Where a plan is to be written.
    replace : bool
        Whether an earlier plan may be replaced.

    Raises
    ------
    OutputError
        If it holds a plan or something else.
    """
    if not replace and folder.is_dir() and (folder / PLAN_FILE).is_file():
        raise OutputError(f"{folder} holds a plan already; give --force to replace it, or --out")
    return check_free(folder, replace_with=PLAN_FILE if replace else None)


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
        By name; plan.json, which lists the others with their digests, is the first.
    """
    tell("drawing the pictures")
    from stopout.plan_file import summarise

    day = datetime.date.today() if date is None else date
    summary = summarise(plan, sheets=True)
    files = {PLAN_FILE: (json.dumps(summary, indent=2) + "\n").encode(), **_files(plan)}
    tell("typesetting the process sheet")
    files |= sheet_files(plan, date=day.isoformat())
    return listed(PLAN_FILE, files)


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


def _files(made: Plan) -> dict[str, bytes]:
    """Return the files of the plan folder besides plan.json."""
    from stopout.pictures import mask_png, mask_svg, preview_png
    from stopout.pictures.of_plan import preview_scene
    from stopout.planning import file_names

    blank = made.job.blank
    files: dict[str, bytes] = {}
    for coat in made.coats:
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
    if made.coats:
        files["preview.png"] = preview_png(preview_scene(made))
    return files
