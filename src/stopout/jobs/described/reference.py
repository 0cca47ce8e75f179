"""The reference page of the job file, made from its definition.

`python -m stopout.jobs.described.reference docs/reference/job-file.md` writes the page anew; a test
holds the page against the definition.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from stopout.jobs.equipment import KINDS
from stopout.jobs.keys.definition import Key, KeyTable
from stopout.jobs.keys.model import JOB_FILE
from stopout.jobs.validate import toml_text
from stopout.units import QUANTITIES

_INTRODUCTION = """\
# The job file

Made from the code by `python -m stopout.jobs.described.reference
docs/reference/job-file.md`; do not edit.

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
  the worst case allows for two of them.
"""


_SHOP = """\
## What the shop keeps

`stopout shop machine`, `paint`, `tray` and `limits` keep figures in the shop book under a name. A
job takes them by it: `machine = "bench-laser"` (or `name` in `[machine]`, other keys beside it),
`resist = "shed-black"` or `paint = "shed-black"` in `[resist]` and `[[coat]]`, `tray = "large"` in
`[bath]`, `limits = "ours"`. What the job gives itself wins; the plan says whose each figure was. Of
a pair (`spot` and `spot_means`) the shop gives both or none, and how a paint is cleared it gives as
a whole, to a job on the machine that the paint names, where the job gives none of it.

A machine's and the limits' figures are the keys of `[machine]` and `[limits]`.
"""


def job_file_reference() -> str:
    """Make the reference page: every table, every key, every unit.

    Returns
    -------
    str
        Markdown.
    """
    parts = [_INTRODUCTION, "\n".join(_units()), _RULES]
    parts += ["\n".join(_table(f"[{name}]", table)) for name, table in JOB_FILE.walk()]
    parts += [_SHOP]
    parts += ["\n".join(_table(f"shop {kind}", KINDS[kind])) for kind in ("paint", "tray", "price")]
    return "\n".join(part.rstrip("\n") + "\n" for part in parts)


def _units() -> Iterator[str]:
    yield "| quantity | units | example |"
    yield "|---|---|---|"
    for quantity in QUANTITIES.values():
        units = ", ".join(f"`{unit}`" for unit in quantity.units)
        yield f'| {quantity.name} | {units} | `"{quantity.example}"` |'


def _table(title: str, table: KeyTable) -> Iterator[str]:
    yield f"## `[{title}]`" if table.is_many else f"## `{title}`"
    yield ""
    yield table.meaning
    yield ""
    yield "| key | default | takes | example | meaning |"
    yield "|---|---|---|---|---|"
    for key in table.keys:
        cells = (f"`{key.name}`", _default(key), key.form.words(), f"`{toml_text(key.sample)}`")
        yield "| " + " | ".join(cell.replace("|", "\\|") for cell in (*cells, key.meaning)) + " |"
    found = [key for key in table.keys if key.find]
    if found:
        yield from ("", "How a figure is found out:", "")
        yield from (f"- `{key.name}`: {key.find}" for key in found)


def _default(key: Key) -> str:
    if key.is_required:
        return "required"
    return "" if key.default is None else f"`{toml_text(key.default)}`"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(job_file_reference(), encoding="utf-8", newline="\n")
