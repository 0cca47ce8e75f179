"""`stopout shop machine`, `paint`, `tray` and `limits`: what jobs call by a name, kept once."""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from stopout.cli.asked.asking import Question, ask_all
from stopout.cli.asked.options import AS_JSON, BOOK, REQUIRED, Given, Option, command
from stopout.cli.speech.plain_help import Commands
from stopout.cli.speech.telling import say, say_done, say_json
from stopout.errors import BookError, UnitError
from stopout.library.book_words import equipment_lines

if TYPE_CHECKING:
    from stopout.job.shop_numbers import Equipment
    from stopout.jobs.keys.definition import Key

_DATE = Option("date", "date", "Such as 2026-11-20. [today]")
_NOTE = Option("note", "text", "Where the figures are from.")
_ANY = Option("name", "text", "As jobs call it; left out: all.", metavar="NAME", is_argument=True)
_ONE = Option("name", "text", "As jobs call it.", REQUIRED, metavar="NAME", is_argument=True)
_CHANGE = Option("change", "switch", "Change the one of that name; what is not given stays.")
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
    _Kind(
        name="price",
        words="what it counts for minutes, paints and etchants",
        table="price",
        example="stopout shop price add sodium-hydroxide --set amount=4.5 --set currency=EUR "
        "--set per=kg",
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
    command(group, _ONE, _SET, _FROM, _NOTE, _CHANGE, _DATE, BOOK, AS_JSON)(add)
    command(group, _ANY, BOOK, AS_JSON)(show)
    command(group, _ONE, BOOK, AS_JSON)(forget)


def _add(kind: _Kind, given: Given) -> None:
    from stopout.library.equipment import keep_equipment

    new = {**_of_job(kind, given.job), **dict(map(_figure, given.figures))}
    # Only then need the book be there.
    kept = _kept(kind, given) if given.change else []
    there = [one for one in kept if one.name == given.name]
    keys = {**(there[0].keys if there else {}), **new}
    if not new and sys.stdin.isatty() and not given.as_json:
        keys = asked_figures(kind.name)
    done = keep_equipment(
        kind.name,
        given.name,
        keys,
        date=given.date,
        book=given.book,
        note=given.note or "",
        in_place=given.change,
    )
    say_done(
        {"id": done.ident, "is_new": done.is_new, "kind": kind.name, "name": given.name},
        f"{'kept as' if done.is_new else 'is'} entry {done.ident}: {kind.name} {given.name}",
        as_json=given.as_json,
    )


def asked_figures(kind: str) -> dict[str, Any]:
    """Ask for the figures of a machine, a paint, a tray or limits, until they can be kept."""
    from stopout.jobs.equipment import KINDS, equipment_mistakes

    say("`back` returns to the one before; what may stay open: Enter, or `end` for the rest")
    # Words of a control that most do without are left to --set.
    is_long = kind == "machine"
    keys = [key for key in KINDS[kind].keys if not is_long or _is_first(key) or key.find]
    # What the plan cannot do without comes first.
    keys = sorted((key for key in keys if key.name != "name"), key=lambda key: not _is_first(key))
    questions = [_question(key) for key in keys]
    typed: dict[str, str] = {}
    while True:
        figures = ask_all(questions, typed)
        faults = equipment_mistakes(kind, figures)
        if not faults:
            return figures
        for fault in faults:
            say(f"  {fault.field}: {fault.message}", to_stderr=True)


def _is_first(key: Key) -> bool:
    """Whether nothing can be planned without it; of a machine's two one will do."""
    return key.is_required or key.name in ("emitter", "wavelength")


def _question(key: Key) -> Question:
    from stopout.jobs.forms import WrongValueError

    def read(text: str) -> Any:
        faults = []
        for value in _meant(key, text):
            try:
                key.form.read(value)
            except WrongValueError as wrong:
                faults.append(wrong.faults[0][1].removesuffix('; write it in "quotes"'))
            else:
                return value
        raise BookError(faults[0])

    how = f"\n  {key.find}" if key.find else ""
    return Question(
        key=key.name,
        words=f"\n{key.meaning}{how}\n  {key.name}{_taken(key)}",
        read=read,
        group="" if _is_first(key) else "open",
        is_needed=key.is_required,
        is_due=lambda given: key.name != "wavelength" or "emitter" not in given,
    )


def _meant(key: Key, text: str) -> Iterator[Any]:
    """What may have been meant by the text, the likeliest first; at a prompt nobody quotes."""
    typed = text.strip().strip("\"'")
    yield _sides(key, text) or _value(text)
    yield typed
    # `Blue diode` for blue-diode, `m3` for M3, `S1000` where a bare number is due.
    yield "-".join(typed.casefold().replace("_", " ").split())
    yield typed.upper()
    if typed[:1] in ("S", "s"):
        yield _value(typed[1:])


def _taken(key: Key) -> str:
    """What an answer may be: words, units, or how a code looks; no other machine's sizes."""
    from stopout.jobs.forms import Amount, OneOf, Row, TextForm, leaf_of
    from stopout.units import QUANTITIES

    form, leaf = key.form, leaf_of(key.form)
    if isinstance(leaf, OneOf):
        return f" ({', '.join(leaf.choices)})"
    if isinstance(leaf, TextForm) and key.example:
        return f" (such as {key.example})"
    if not isinstance(leaf, Amount):
        return ""
    size = "width x height in mm, or " if isinstance(form, Row) and not form.or_one else ""
    return f" ({size}with its unit: {', '.join(QUANTITIES[leaf.quantity].units)})"


def _sides(key: Key, text: str) -> list[str] | None:
    """Width and height as sizes are typed, such as 300x200; None where the text is no size."""
    from stopout.cli.asked.sizes import parse_size_mm
    from stopout.jobs.forms import Row

    if not isinstance(key.form, Row) or key.form.length != 2 or text.lstrip().startswith("["):
        return None
    try:
        return [f"{side:g} mm" for side in parse_size_mm(key.name, text)]
    except UnitError:
        return None


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
        say_json([_as_dict(one) for one in found])
        return
    if not found:
        say(f"no {kind.name} is kept yet; keep one with: {kind.example}")
    for one in found:
        say(f"{one.name}  ({one.date}, entry {one.ident}) {one.note}".rstrip())
        for line in equipment_lines(one):
            say(f"  {line}")


def _forget(kind: _Kind, given: Given) -> None:
    from stopout.library.book import book_for_keeping

    there = [one for one in _kept(kind, given) if one.name == given.name]
    if not there:
        raise BookError(_none(kind, given))
    with book_for_keeping(given.book) as opened:
        opened.forget(there[0].ident)
    was = (f"forgotten; it was:\n[{kind.name}]", *equipment_lines(there[0]))
    say_done(_as_dict(there[0]), *was, as_json=given.as_json)


def _as_dict(one: Equipment) -> dict[str, Any]:
    return {"id": one.ident, "name": one.name, "date": one.date, "keys": dict(one.keys)}


def _kept(kind: _Kind, given: Given) -> list[Equipment]:
    from stopout.library.book import usual_book
    from stopout.library.equipment import shop_equipment

    kept = shop_equipment(given.book or usual_book())
    return [one for one in kept if one.kind == kind.name]


def _none(kind: _Kind, given: Given) -> str:
    names = ", ".join(one.name for one in _kept(kind, given)) or "none"
    return f"there is no {kind.name} {given.name!r} in the shop book; it has: {names}"
