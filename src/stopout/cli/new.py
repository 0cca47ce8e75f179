"""`stopout new`: a starter job with artwork, by what is answered and what the shop has."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Callable
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from stopout.cli.asked.asking import Question, ask_all
from stopout.cli.asked.options import AS_JSON, BOOK, REQUIRED, Given, Option, command
from stopout.cli.speech.plain_help import Commands
from stopout.cli.speech.telling import say, say_done
from stopout.errors import StopoutError
from stopout.folders import write_folder

if TYPE_CHECKING:
    from stopout.job.shop_numbers import Equipment

_WHAT = {"plate": "an etched plate", "sign": "a sign behind clear plastic"}
_KEPT = ("machine", "paint", "tray", "limits")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """A key of the starter that an option or an answer gives, and which starters have it."""

    name: str
    table: str
    key: str
    help: str
    kinds: tuple[str, ...] = ("plate", "sign")

    @property
    def option(self) -> Option:
        """The option that gives it."""
        return Option(self.name, "text", self.help, metavar="VALUE")


# A table is read as one: an answer in a line or two.
# fmt: off
_ASKED = (
    _Asked(name="name", table="job", key="name", help="What the job is called."),
    _Asked(name="artwork", table="artwork", key="file",
           help="A drawing to copy into the folder. [an example]"),
    _Asked(name="material", table="blank", key="material", help="What the blank is of."),
    _Asked(name="width", table="blank", key="width", help="The blank's width, such as 80mm."),
    _Asked(name="height", table="blank", key="height", help="The blank's height."),
    _Asked(name="thickness", table="blank", key="thickness", help="The blank's thickness."),
    _Asked(name="drawn", table="artwork", key="width", help="How wide the drawing becomes."),
    _Asked(name="machine", table="machine", key="name", help="One of the shop's machines."),
    _Asked(name="paint", table="resist", key="paint", kinds=("plate",),
           help="A paint of the tables, or one that the shop keeps."),
    _Asked(name="first_paint", table="coat", key="paint", kinds=("sign",),
           help="The paint nearest to the reader."),
    _Asked(name="second_paint", table="coat", key="paint", kinds=("sign",),
           help="The paint behind it."),
    _Asked(name="etchant", table="etch", key="etchant", help="The etchant.", kinds=("plate",)),
    _Asked(name="strength", table="etch", key="strength", kinds=("plate",),
           help="The bath's strength, such as 100g/L."),
    _Asked(name="temperature", table="etch", key="temperature", kinds=("plate",),
           help="The bath's temperature."),
    _Asked(name="depth", table="etch", key="depth", help="How deep it is etched.",
           kinds=("plate",)),
    _Asked(name="tray", table="bath", key="tray", help="One of the shop's trays.",
           kinds=("plate",)),
    _Asked(name="limits", table="limits", key="name", help="Limits that the shop keeps."),
)
# fmt: on
_FOLDER = Option(
    "folder", "folder", "Folder to make; must be new.", REQUIRED, metavar="DIR", is_argument=True
)
_NO_ASK = Option("no_ask", "switch", "Ask nothing: what no option gives stays as in the example.")


def register(app: typer.Typer) -> None:
    """Add the command group to the app."""
    group = Commands(help="Make a starter job with artwork, ready to plan.", no_args_is_help=True)
    for kind, words in _WHAT.items():
        _add(group, kind, words)
    app.add_typer(group, name="new")


def _add(group: typer.Typer, kind: str, words: str) -> None:
    asked = [one for one in _ASKED if kind in one.kinds]

    def make(given: Given) -> None:
        _make(kind, asked, given)

    make.__name__ = kind
    make.__doc__ = (
        f"Make a starter job for {words}; on a terminal asks what no option gives.\n\n"
        f"Example: stopout new {kind} my-{kind}"
    )
    command(group, _FOLDER, *(one.option for one in asked), _NO_ASK, BOOK, AS_JSON)(make)


def _make(kind: str, asked: list[_Asked], given: Given) -> None:
    from stopout.cli.asked.starter import Starter
    from stopout.folders import check_free
    from stopout.library.book import usual_book
    from stopout.library.equipment import shop_equipment

    check_free(given.folder, replace_with=None)
    place = resources.files("stopout.cli") / "starters" / kind
    files = {item.name: item.read_bytes() for item in place.iterdir() if item.is_file()}
    starter = Starter(files["job.toml"].decode())
    answers = {o.name: getattr(given, o.name) for o in asked}
    answers = {name: answer for name, answer in answers.items() if answer is not None}
    shop = shop_equipment(given.book or usual_book())
    if sys.stdin.isatty() and not given.no_ask and not given.as_json:
        answers |= _asked(kind, asked, starter, answers, shop)
        shop = _kept_now(answers, shop, given.book)
    if "artwork" in answers:
        drawing = Path(answers["artwork"])
        if not drawing.is_file():
            raise StopoutError(f"--artwork: there is no file {drawing}")
        del files["artwork.svg"]
        files[drawing.name] = drawing.read_bytes()
        answers["artwork"] = drawing.name
    for one in asked:
        if one.name in answers:
            starter.put(one.table, one.key, answers[one.name], at=int(one.name == "second_paint"))
    starter.take_from_shop(shop)
    text = starter.text
    _check(text, given.folder / "job.toml", shop)
    write_folder(given.folder, {**files, "job.toml": text.encode()}, replace_with=None)
    lines = [f"{given.folder / 'job.toml'} is ready; next: stopout plan {given.folder}/job.toml"]
    if "machine" not in answers:
        lines.append(
            "its machine and how the paint is cleared are an example's: put in your own figures, "
            "or keep them once with: stopout shop machine add NAME"
        )
    content = {"job": str(given.folder / "job.toml"), "files": sorted(files)}
    say_done(content, *lines, as_json=given.as_json)


def _check(text: str, file: Path, shop: tuple[Equipment, ...]) -> None:
    """Refuse what would be no job, before anything is written."""
    from stopout.jobs import parse_job

    parse_job(text.encode(), file=str(file), shop=lambda: shop)


def _asked(
    kind: str,
    asked: list[_Asked],
    starter: Any,
    answers: dict[str, str],
    shop: tuple[Equipment, ...],
) -> dict[str, str]:
    """Ask for what no option gives; Enter takes what stands in brackets."""
    say(f"{_WHAT[kind]}: Enter takes what stands in brackets, `back` goes back")
    questions = []
    for one in asked:
        names = [kept.name for kept in shop if one.table != "artwork" and kept.kind == _kind(one)]
        if one.name in answers or (one.name in ("tray", "limits") and not names):
            continue
        has = f" (kept: {', '.join(names)})" if names else ""
        if one.name == "machine" and not names:
            has = " (none is kept: a name here asks for its figures, - leaves the example's)"
        usual = "" if one.name == "artwork" else starter.value(one.table, one.key)
        # The second coat is hardly of the first one's paint.
        mine = names[1:] if one.name == "second_paint" else names
        question = Question(
            key=one.name,
            words=one.help.rstrip(".") + has,
            read=_reader(one),
            usual=_always(mine[0] if mine else usual),
        )
        questions.append(question)
    return ask_all(questions)


def _kind(one: _Asked) -> str:
    return "paint" if one.name.endswith("paint") else one.name


def _reader(one: _Asked) -> Callable[[str], str]:
    """Hold an answer against the job file's definition; it stays as typed."""
    from stopout.jobs.forms import WrongValueError
    from stopout.jobs.keys.definition import Key, KeyTable
    from stopout.jobs.keys.model import JOB_FILE

    table = JOB_FILE.parts[one.table]
    assert isinstance(table, KeyTable)
    key = table.parts[one.key]
    # A name of the shop's, or a file that is looked for later, has no form.
    is_named = one.name.endswith("paint") or one.name in (*_KEPT, "artwork")

    def read(text: str) -> str:
        try:
            if isinstance(key, Key) and not is_named:
                key.form.read(text)
        except WrongValueError as wrong:
            raise StopoutError(wrong.faults[0][1]) from None
        if one.name == "artwork" and not Path(text).is_file():
            raise StopoutError(f"there is no file {text}; - takes the example")
        return text

    return read


def _always(text: str) -> Any:
    return lambda _: text


def _kept_now(
    answers: dict[str, str], shop: tuple[Equipment, ...], book: Path | None
) -> tuple[Equipment, ...]:
    """Ask for the figures of a machine that is named and not kept yet, and keep it."""
    name = answers.get("machine")
    if name is None or any((one.kind, one.name) == ("machine", name) for one in shop):
        return shop
    from stopout.cli.keeping.shop_equipment import asked_figures
    from stopout.library.book import usual_book
    from stopout.library.equipment import keep_equipment, shop_equipment

    say(f"the machine {name}:")
    day = datetime.date.today().isoformat()
    keep_equipment("machine", name, asked_figures("machine"), date=day, book=book)
    return shop_equipment(book or usual_book())
