"""The reference page of the job file, made from the models.

`python -m stopout.jobs.reference docs/reference/job-file.md` writes the page anew; a test holds
the page against the models.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

from pydantic.fields import FieldInfo

from stopout.jobs.model import JobFile, Table
from stopout.jobs.usual import form_of
from stopout.jobs.validate import table_in, toml_text
from stopout.units import QUANTITIES

__all__ = ["job_file_reference"]

_INTRODUCTION = """\
# The job file

Made from the code by `python -m stopout.jobs.reference docs/reference/job-file.md`; do not edit.

A job file is a text in TOML 1.0 (UTF-8, at most 1 MB). `stopout plan` checks all of it and names
every mistake at once, each with its line. `stopout schema` prints the same contract as a JSON
Schema (draft 2020-12), for editors that complete and check as one types.

A quantity is a text of one number and one unit, such as `"0.12 mm"` or `"20 mm/s"`. The number
has a decimal point, not a comma, and is no fraction; the space may be left out. A number without
a unit is refused where a unit is due, with the units that people mean there. No length is more
than 10 m. A value that is possible and outside what is usual for its key is told by a caution
(`value-unusual`); so is a mark unlike its spot, artwork more than twice as large as the blank, and
a depth of more than half the thickness.
"""

_RULES = """\
## What goes with what

- At most one of `artwork.width`, `height`, `scale` and `resolution`; with none of them the file's
  own size holds. `resolution` is for pictures made of pixels.
- `artwork.field` is required with `dark = "raised"` and has no effect otherwise (a note says so).
  `dark = "raised"` is for metal.
- At most one of `blank.corner_radius` and `blank.outline`; `width` and `height` are given with
  either. The corner radius is at most half of the smaller side, and holes lie inside the blank.
- `worked_side = "front"` (metal) needs one `[resist]` and `[etch]`. `worked_side = "back"` (clear
  plastic) needs two `[[coat]]` tables or more, each with `shows`, and has neither of the others.
- No two coats show the same. `colour = "clear"` is a window to light and only the last coat;
  there `paint` may be left out.
- `[light]` stands instead of the coats of a back-worked piece: the bare sheet is marked. It
  excludes `[registration]` and lays the lines itself, so `clearing.spacing` and
  `clearing.line_direction` stay `"auto"`; `far` is 1 or more.
- A mark lies between 0.07 and 2 times the spot's 1/e2 width along its axis: a line that just passes
  the threshold, and one at 3000 times the threshold. Artwork is at most 20 times as large as the
  blank, and `edge_tolerance` at most a twentieth of the blank's smaller side.
- At most one of `clearing.mark` and `clearing.dose_ratio`.
- `clearing.speed` and a coat's `speed` are at most `machine.top_speed`; a given
  `clearing.spacing` is at least one `machine.step`, and a step at most the width of the spot.
- `[bath]` goes with `[etch]`. `dissolved` is metal per litre, in g/L. Pieces that do not lie in the
  tray at once go in batches.
- `etchant = "electrolytic"` needs `electrolyte` and takes at most one of `current` and
  `current_density`; `rate` follows from the current and is refused. `voltage`, `efficiency` and
  `chromate_acknowledged` are for it only. `strength` is then that of the electrolyte.
- A standard deviation is less than its value; that of `etch_factor` less than half of it, since
  the worst case reckons with two of them.
"""


def job_file_reference() -> str:
    """Make the reference page: every table, every key, every unit.

    Returns
    -------
    str
        Markdown.
    """
    parts = [_INTRODUCTION, "\n".join(_units()), _RULES]
    parts += ["\n".join(_table(model, title)) for model, title in _tables(JobFile, "")]
    return "\n".join(part.rstrip("\n") + "\n" for part in parts)


def _units() -> Iterator[str]:
    yield "| quantity | units | example |"
    yield "|---|---|---|"
    for quantity in QUANTITIES.values():
        units = ", ".join(f"`{unit}`" for unit in quantity.units)
        yield f'| {quantity.name} | {units} | `"{quantity.example}"` |'


def _tables(model: type[Table], at: str) -> Iterator[tuple[type[Table], str]]:
    """Every table of the job file in its order, with its header."""
    for key, info in model.model_fields.items():
        inner, many = table_in(info)
        if inner is not None:
            name = f"{at}{key}"
            yield inner, f"[[{name}]]" if many else f"[{name}]"
            yield from _tables(inner, f"{name}.")


def _table(model: type[Table], title: str) -> Iterator[str]:
    yield f"## `{title}`"
    yield ""
    yield inspect.getdoc(model) or ""
    yield ""
    yield "| key | default | takes | example | meaning |"
    yield "|---|---|---|---|---|"
    for key, info in model.model_fields.items():
        if table_in(info)[0] is None:
            cells = (f"`{key}`", _default(info), _takes(info), _example(info), info.description)
            yield "| " + " | ".join(str(cell).replace("|", "\\|") for cell in cells) + " |"


def _default(info: FieldInfo) -> str:
    if info.is_required():
        return "required"
    return "" if info.default is None else f"`{toml_text(info.default)}`"


def _example(info: FieldInfo) -> str:
    return f"`{toml_text((info.examples or [''])[0])}`"


def _takes(info: FieldInfo) -> str:
    """The form of a key in words."""
    form = form_of(info)
    if form is not None:
        return form.words()
    if info.annotation is bool:
        return "`true` or `false`"
    return ", ".join(f'`"{word}"`' for word in _choices(info.annotation))


def _choices(annotation: object) -> Iterator[str]:
    """The words of a literal, also of one that may be left out."""
    for part in get_args(annotation):
        if isinstance(part, str):
            yield part
        elif part is not type(None):
            yield from _choices(part)


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(job_file_reference(), encoding="utf-8", newline="\n")
