"""`stopout shop machine`, `paint`, `tray` and `limits`: what jobs call by a name, kept once."""

from __future__ import annotations

import json
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from stopout.cli.asking import Question, ask_all
from stopout.cli.options import AS_JSON, BOOK, REQUIRED, Given, Option, command
from stopout.cli.plain_help import Commands
from stopout.errors import BookError

if TYPE_CHECKING:
    from stopout.job.shop_numbers import Equipment
    from stopout.jobs.definition import Key

_DATE = Option("date", "date", "Such as 2026-11-20. [today]")
_NOTE = Option("note", "text", "Where the figures are from.")
_ANY = Option("name", "text", "As jobs call it; left out: all.", metavar="NAME", is_argument=True)
_ONE = Option("name", "text", "As jobs call it.", REQUIRED, metavar="NAME", is_argument=True)
_REPLACE = Option("replace", "switch", "Put it in place of the one that is there.")
_FROM = Option("job", "file", "Take the figures of this job file.", flag="--from", metavar="JOB")
_SET = Option(
    "figures",
    "text",
    'A figure as a job file writes it, such as spot="0.17 mm"; any number of them.',
    metavar="KEY=VALUE",
    flag="--set",
    is_many=True,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """What is kept: its name, in which table of a job it stands, and an example."""

    name: str
    words: str
    table: str
    example: str


_KINDS = (
    _Kind(
        name="machine",
        words="the laser machines",
        table="machine",
        example="stopout shop machine add bench-laser",
    ),
    _Kind(
        name="paint",
        words="the paints as sprayed here",
        table="resist",
        example="stopout shop paint add shed-black --set paint=epoxy-two-part",
    ),
    _Kind(
        name="tray",
        words="the trays",
        table="bath",
        example='stopout shop tray add large --set \'size=["240 mm", "180 mm"]\'',
    ),
    _Kind(
        name="limits",
        words="what is accepted of a piece",
        table="limits",
        example="stopout shop limits add ours --from my-plate/job.toml",
    ),
)


def register(shop: typer.Typer) -> None:
    """Add the groups to the shop's."""
    for kind in _KINDS:
        group = Commands(help=f"Of the shop: {kind.words}, by name.", no_args_is_help=True)
        _add_commands(group, kind)
        shop.add_typer(group, name=kind.name)


def _add_commands(group: typer.Typer, kind: _Kind) -> None:
    def add(given: Given) -> None:
        _add(kind, given)

    def show(given: Given) -> None:
        _show(kind, given)

    def forget(given: Given) -> None:
        _forget(kind, given)

    add.__doc__ = (
        f"Keep one by a name; on a terminal asks for its figures.\n\nExample: {kind.example}"
    )
    show.__doc__ = f"Show one, or all.\n\nExample: stopout shop {kind.name} show"
    forget.__doc__ = (
        f"Take one out of the book.\n\nExample: stopout shop {kind.name} forget "
        f"{kind.example.split()[4]}"
    )
    command(group, _ONE, _SET, _FROM, _NOTE, _REPLACE, _DATE, BOOK)(add)
    command(group, _ANY, BOOK, AS_JSON)(show)
    command(group, _ONE, BOOK)(forget)


def _add(kind: _Kind, given: Given) -> None:
    from stopout.library.equipment import keep_equipment

    keys = {**_of_job(kind, given.job), **dict(map(_figure, given.figures))}
    if not keys and sys.stdin.isatty():
        keys = asked_figures(kind.name)
    kept = keep_equipment(
        kind.name,
        given.name,
        keys,
        date=given.date,
        book=given.book,
        note=given.note or "",
        in_place=given.replace,
    )
    typer.echo(f"{'kept as' if kept.is_new else 'is'} entry {kept.ident}: {kind.name} {given.name}")


def asked_figures(kind: str) -> dict[str, Any]:
    """Ask for the figures of a machine, a paint, a tray or limits, one after another."""
    from stopout.jobs.equipment import KINDS

    typer.echo("Enter leaves a figure open where it may be; `back` returns to the one before.")
    keys = [key for key in KINDS[kind].keys if key.name != "name"]
    return ask_all([_question(key) for key in keys if key.is_required or key.find])


def _question(key: Key) -> Question:
    from stopout.jobs.forms import WrongValueError

    def read(text: str) -> Any:
        value = _value(text)
        try:
            key.form.read(value)
        except WrongValueError as wrong:
            raise BookError(wrong.faults[0][1]) from None
        return value

    how = f" ({key.find})" if key.find else ""
    return Question(key=key.name, words=f"{key.name}: {key.meaning}{how}", read=read)


def _figure(text: str) -> tuple[str, Any]:
    key, mark, value = text.partition("=")
    if not mark or not key.strip():
        raise BookError(f'--set {text!r} is no figure; write KEY=VALUE, such as spot="0.17 mm"')
    return key.strip(), _value(value)


def _value(text: str) -> Any:
    """What was typed, as a job file would hold it; quotes may be left out."""
    try:
        return tomllib.loads(f"value = {text.strip()}")["value"]
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return text.strip()


def _of_job(kind: _Kind, path: Path | None) -> dict[str, Any]:
    """The figures that a job file gives."""
    if path is None:
        return {}
    from stopout.jobs.equipment import KINDS
    from stopout.jobs.syntax import read_source

    if not path.is_file():
        raise BookError(f"there is no file {path}")
    values = read_source(path.read_bytes(), file=str(path)).values
    table = values.get(kind.table)
    if not isinstance(table, dict):
        raise BookError(f"{path} has no table [{kind.table}]")
    if kind.name == "tray":
        return {"size": table["tray"]} if "tray" in table else {}
    # A paint has keys of [resist] only: how it was cleared belongs to a machine's name.
    return {key: value for key, value in table.items() if key in KINDS[kind.name].parts}


def _show(kind: _Kind, given: Given) -> None:
    found = [one for one in _kept(kind, given) if given.name in (None, one.name)]
    if given.name is not None and not found:
        raise BookError(_none(kind, given))
    if given.as_json:
        rows = [
            {"id": one.ident, "name": one.name, "date": one.date, "keys": dict(one.keys)}
            for one in found
        ]
        typer.echo(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    if not found:
        typer.echo(f"no {kind.name} is kept yet; keep one with: {kind.example}")
    for one in found:
        typer.echo(f"{one.name}  ({one.date}, entry {one.ident}) {one.note}".rstrip())
        for line in equipment_lines(one):
            typer.echo(f"  {line}")


def _forget(kind: _Kind, given: Given) -> None:
    from stopout.library.book import book_for_keeping

    there = [one for one in _kept(kind, given) if one.name == given.name]
    if not there:
        raise BookError(_none(kind, given))
    with book_for_keeping(given.book) as opened:
        opened.forget(there[0].ident)
    typer.echo(f"forgotten; it was:\n[{kind.name}]")
    for line in equipment_lines(there[0]):
        typer.echo(line)


def _kept(kind: _Kind, given: Given) -> list[Equipment]:
    from stopout.library.book import usual_book
    from stopout.library.equipment import shop_equipment

    kept = shop_equipment(given.book or usual_book())
    return [one for one in kept if one.kind == kind.name]


def _none(kind: _Kind, given: Given) -> str:
    names = ", ".join(one.name for one in _kept(kind, given)) or "none"
    return f"there is no {kind.name} {given.name!r} in the shop book; it has: {names}"


def equipment_lines(record: Equipment) -> list[str]:
    """The figures as a job file writes them, a line each."""
    from stopout.jobs.equipment import KINDS
    from stopout.jobs.validate import toml_text

    order = list(KINDS[record.kind].parts)
    # An entry from elsewhere may hold what no job file knows.
    keys = sorted(record.keys, key=lambda key: order.index(key) if key in order else len(order))
    return [f"{key} = {toml_text(record.keys[key])}" for key in keys]


def equipment_words(record: Equipment) -> str:
    """The first of the figures in a line."""
    return ", ".join(equipment_lines(record)[:4])
