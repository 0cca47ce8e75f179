"""The reference page of the tables, written from the data so that the two cannot differ."""

from __future__ import annotations

from stopout.tables.read import raw_table
from stopout.tables.show import ShownRow, list_table, show_entry

_INTRO = """# The tables

Every number and every sentence of advice that Stopout brings along, with where it comes from.
This page is written from the data files (`src/stopout/tables/data/*.toml`) and a test compares
the two; change the data, not this page.

- **Kind**: *published* (a source is named), *computed* (by us, from published values), *practice*
  (common practice, no source), *memory* (recalled, to be verified).
- **Grade** of rates and factors: A measured and published, B published practice, C anecdote or
  derived, D guess. C and D are starting guesses: etch a coupon first.
- Metal, etchant and the rest of the ids stand in `code`; they are what a job file names.

Hazards here are reminders. The supplier's safety data sheet, local codes, the licensed waste
carrier and licensed practice come first; the label of the bottle in hand wins.

A value is a TOML table with `value`, `unit`, `kind` and `source` (an entry of `sources.toml`;
none for practice and memory), and may have `where` (the place in the source), `low`, `high`,
`grade`, `note`. Without unit, kind or source it does not load.
"""

_TITLES = {
    "materials": "Materials",
    "etchants": "Etchants",
    "pairs": "Metal and etchant together",
    "electrolytes": "Electrolytes for electro-etching",
    "resists": "Resists and coats",
    "hazards": "Hazards",
    "refusals": "Refused, or held to a strength",
    "ceilings": "Ceilings that no shop's number lifts",
    "names": "Names that people type, taken or refused",
    "finishes": "What covers a blank as bought",
    "species": "Species of the reactions",
    "beams": "Beams and paints before anything is measured",
}


def tables_page() -> str:
    """All tables as one Markdown page."""
    parts = [_INTRO]
    for kind, title in _TITLES.items():
        parts.append(f"## {title}\n")
        for ident, name in list_table(kind):
            # A list of names is the entry itself, not its title.
            title = f"### `{ident}`" if kind == "names" else f"### `{ident}`: {name}"
            parts.append(f"{title}\n\n{_table(show_entry(kind, ident))}")
    parts.append("## Safety: not yet checked against the standard\n\n" + _unchecked())
    parts.append("## Sources\n\n" + _sources())
    return "\n".join(parts)


def _table(rows: tuple[ShownRow, ...]) -> str:
    lines = ["| what | value | kind | grade | source |", "|---|---|---|---|---|"]
    for row in rows:
        value = f"{row.value} {row.unit}".strip()
        cells = (row.name, value, row.kind, row.grade or "", row.source)
        lines.append("| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


def _unchecked() -> str:
    """What the hazards say from memory, until somebody has looked it up."""
    lines = []
    for ident, _ in list_table("hazards"):
        rows = [row.name for row in show_entry("hazards", ident) if row.kind == "memory"]
        if rows:
            lines.append(f"- `{ident}`: {', '.join(dict.fromkeys(rows))}\n")
    return "".join(lines)


def _sources() -> str:
    found = raw_table("sources").items()
    return "".join(f"- `{ident}`: {s['text']}. Read: {s['read']}.\n" for ident, s in found)
