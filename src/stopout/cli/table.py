"""`stopout table`: the data behind the plans, every value with its unit, kind, grade and source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import TYPE_CHECKING

import typer

from stopout.cli.asked.options import AS_JSON, REQUIRED, Given, Option, command
from stopout.cli.speech.telling import say, say_json
from stopout.cli.speech.wrapping import wrapped

if TYPE_CHECKING:
    from stopout.tables import ShownRow

_WIDEST = 120
_KINDS = {"memory": "from memory", "practice": "common practice, no source"}


# fmt: off
_OPTIONS = (
    Option("kind", "text", "materials, etchants, pairs, resists, hazards, statements, refusals, "
           "ceilings, names, electrolytes, finishes, species, beams.", REQUIRED, metavar="TABLE",
           is_argument=True),
    Option("ident", "text", "An entry; left out: the list of them.", metavar="ID",
           is_argument=True),
    Option("tables", "file", "The shop's own tables, laid over these."),
    AS_JSON,
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, *_OPTIONS)
    def table(given: Given) -> None:
        """Show the data tables and where each value comes from.

        Examples: stopout table etchants; stopout table pairs aluminium/sodium-hydroxide
        """
        from stopout.tables import list_table, open_shop_tables, overlaid, show_entry

        kind, ident = given.kind, given.ident
        shop = None if given.tables is None else open_shop_tables(given.tables).overlay
        with overlaid(shop):
            if ident is None:
                entries = list_table(kind)
                if given.as_json:
                    found = [{"id": ident, "name": name} for ident, name in entries]
                    say_json({"table": kind, "entries": found})
                else:
                    say("\n".join(_list(entries)))
                return
            rows = show_entry(kind, ident)
        if given.as_json:
            say_json({"table": kind, "id": ident, "rows": [asdict(row) for row in rows]})
        else:
            say("\n".join(_entry(ident, rows)))


def _list(entries: tuple[tuple[str, str], ...]) -> Iterator[str]:
    """Ids in one column, names beside them."""
    column = max((len(ident) for ident, _ in entries), default=0) + 2
    for ident, name in entries:
        yield from _hanging(ident.ljust(column), name, column)


def _entry(ident: str, rows: tuple[ShownRow, ...]) -> Iterator[str]:
    """A value a paragraph: name and value, then kind, grade and source."""
    yield ident
    for row in rows:
        value = f"{row.value} {row.unit}".rstrip()
        yield ""
        yield from _hanging(f"  {row.name}: ", value, 4)
        yield from _hanging("      ", _origin(row), 6)


def _origin(row: ShownRow) -> str:
    """Say where a value comes from, the kind once."""
    kind = _KINDS.get(row.kind, row.kind)
    grade = f", grade {row.grade}" if row.grade else ""
    says_it = not row.source or row.source.startswith(kind)
    return f"[{row.source or kind}{grade}]" if says_it else f"[{kind}{grade}: {row.source}]"


def _hanging(start: str, text: str, indent: int) -> list[str]:
    return wrapped(text, widest=_WIDEST, start=start, indent=indent) or [start.rstrip()]
