"""`stopout shop`: the shop book's entries, shown, added, moved and forgotten."""

from __future__ import annotations

import datetime
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from stopout.cli.asked.options import AS_JSON, BOOK, REQUIRED, Given, Option, command
from stopout.cli.keeping import shop_equipment
from stopout.cli.speech.plain_help import Commands
from stopout.cli.speech.telling import say, say_as_it_is, say_done, say_json
from stopout.errors import BookError
from stopout.folders import check_replaceable, write_file
from stopout.library.book import book_for_keeping, book_for_reading
from stopout.library.book_words import entry_words

if TYPE_CHECKING:
    from stopout.job.shop_numbers import BathEvent, JobRecord
    from stopout.records import Entry, Kept, ShopBook

_LARGEST_MB = 50
# More is a slip of the unit: the limit of `dissolved` in the job file, our own rule, no source.
_MOST_METAL_G_PER_L = 500.0
# A table is read as one: an option in a line or two.
# fmt: off
_IDENT = Option("ident", "count", "The number that `list` shows.", REQUIRED, metavar="ID",
                is_argument=True)
_DATE = Option("date", "text", "Such as 2026-11-20; left out: today.", metavar="DATE")
_PICTURE = Option("picture", "file", "Draw the history that the entry belongs to (PNG).")
_TO = Option("file", "file", "Left out: standard output.", metavar="FILE", is_argument=True)
_FROM = Option("file", "file", "What `export` wrote.", REQUIRED, metavar="FILE", is_argument=True)
_MEASURED_ON = Option("file", "file", "A plan's folder: asks question by question. A file: what "
                      "the page saved.", REQUIRED, metavar="PLAN_DIR|FILE", is_argument=True)
_TIMED = (
    Option("folder", "folder", "The folder of the plan, or of timing runs.", REQUIRED,
           metavar="PLAN_DIR", is_argument=True),
    Option("took", "text", "From start to standstill by the clock, such as 14:30 or 14.5min.",
           metavar="TIME"),
    Option("long", "text", "Of timing runs: what long.nc took.", metavar="TIME"),
    Option("short", "text", "Of timing runs: what short.nc took.", metavar="TIME"),
    Option("coat", "count", "Which coat. [the only one that is cleared]", metavar="K"),
    _DATE, BOOK, AS_JSON,
)
# The bounds are what the job file takes as possible for a bath, and what a balance can tell.
_BATH = (
    Option("name", "text", "As on the container's label.", REQUIRED, metavar="NAME",
           is_argument=True),
    Option("event", "text", "mixed, etched, topped-up or discarded.", REQUIRED, metavar="EVENT",
           is_argument=True),
    Option("litres", "volume", "Mixed or topped up, such as 2L.", least=0.001, most=10000.0),
    Option("metal", "mass", "Metal etched into it, such as 1.2g.", least=0.001, most=1e6),
    Option("etchant", "text", "What is in it; for a new bath.", metavar="ID"),
    _DATE,
    Option("note", "text", "Anything worth knowing.", ""),
    BOOK, AS_JSON,
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the commands to the app."""
    shop = Commands(
        name="shop",
        help="The shop book: machines, paints, trays, coupons, baths and jobs: your own numbers.",
        no_args_is_help=True,
    )
    command(shop, BOOK, AS_JSON, name="list")(_list)
    command(shop, _IDENT, BOOK, _PICTURE, AS_JSON, name="show")(_show)
    command(shop, _TO, BOOK, AS_JSON, name="export")(_export)
    command(shop, _FROM, BOOK, AS_JSON, name="import")(_import)
    command(shop, _IDENT, BOOK, AS_JSON, name="forget")(_forget)
    command(shop, _MEASURED_ON, BOOK, AS_JSON, name="record")(_record)
    command(shop, *_TIMED, name="timed")(_timed)
    command(shop, *_BATH, name="bath")(_bath)
    shop_equipment.register(shop)
    app.add_typer(shop)


def _list(given: Given) -> None:
    """List the entries, a line each.

    Example: stopout shop list
    """
    from stopout.records import book_path

    opened = book_for_reading(given.book)
    entries: tuple[Entry, ...] = ()
    if opened is not None:
        with opened:
            entries = opened.entries()
    if given.as_json:
        rows = [{"id": e.ident, "kind": e.kind, "date": e.date} for e in entries]
        say_json({"book": str(book_path(given.book)), "entries": rows})
        return
    if not entries:
        say(f"nothing is kept yet in {book_path(given.book)}")
    for entry in entries:
        say(f"{entry.ident:>4}  {entry.date}  {entry.kind:<8}  {entry_words(entry)}")


def _show(given: Given) -> None:
    """Show one entry with all its values, and its history as a picture.

    Example: stopout shop show 3 --picture rate.png
    """
    ident, picture = given.ident, given.picture
    if picture is not None:
        check_replaceable(picture, kind="PNG")
    with _there(given.book) as opened:
        entry, numbers = opened.get(ident), opened.numbers()
    if picture is not None:
        from stopout.library.history import history_of
        from stopout.pictures.history import history_png

        title, note, panels = history_of(entry, numbers)
        if not panels:
            raise BookError(f"entry {ident} has no history to draw yet")
        write_file(picture, history_png(title, note, panels))
    if given.as_json:
        say_json({"id": ident, **_as_dict(entry)})
        return
    for line in _shown(entry):
        say(line)
    if picture is not None:
        say(f"history: {picture}")


def _export(given: Given) -> None:
    """Write the whole book as JSON, to keep a copy or to move it.

    Example: stopout shop export shop-2026.json
    """
    from stopout.records import export_book

    file = given.file
    with _there(given.book) as opened:
        text = export_book(opened)
    if file is None:
        say_as_it_is(text, ends_line=False)
        return
    if not file.parent.is_dir():
        raise BookError(f"{file.parent} is not a folder; make it first")
    if os.path.lexists(file):
        raise BookError(f"{file} exists already; choose another name")
    write_file(file, text.encode())
    say_done({"exported_to": str(file)}, f"exported to {file}", as_json=given.as_json)


def _import(given: Given) -> None:
    """Add the entries of an export; what the book has already stays as it is.

    Example: stopout shop import shop-2026.json
    """
    from stopout.records import import_book

    text = _text(given.file)
    with book_for_keeping(given.book) as opened:
        kept = import_book(opened, text, where=str(given.file))
    new = sum(one.is_new for one in kept)
    there = len(kept) - new
    words = f"{new} new, {there} there already"
    say_done({"new": new, "there_already": there}, words, as_json=given.as_json)


def _forget(given: Given) -> None:
    """Take an entry out of the book, a bath with its ledger. What it was is printed as JSON.

    Example: stopout shop forget 3
    """
    from stopout.job.shop_numbers import JobRecord
    from stopout.records import BOOK_FORMAT

    with _there(given.book) as opened:
        record = opened.get(given.ident).record
        # The line that a job record wrote into a ledger goes with it, and must come back with it.
        bath = opened.bath(record.bath) if isinstance(record, JobRecord) else None
        gone = [opened.forget(given.ident), *([bath] if bath else [])]
    data = {"format": BOOK_FORMAT, "entries": [_as_dict(entry) for entry in gone]}
    say_json(data)


def _record(given: Given) -> None:
    """Keep what was measured on a finished job, piece by piece: depth, time, weights, undercut.

    Example: stopout shop record winch-plate-plan
    """
    from stopout.library.keeping import keep_record
    from stopout.records import job_record_of

    file, book = given.file, given.book
    if given.as_json and file.is_dir():
        raise BookError("questions are asked in words; give --json with a record's file")
    record = _asked(file, book) if file.is_dir() else job_record_of(_text(file), where=str(file))
    if record is None:
        say("nothing was kept")
        return
    kept, entry, note = keep_record(record, book)
    words = f"{_kept(kept)}: {entry_words(entry)}"
    content = {"id": kept.ident, "is_new": kept.is_new, "note": note}
    say_done(content, words, *([note] if note else []), as_json=given.as_json)


def _asked(folder: Path, book: Path | None) -> JobRecord | None:
    from stopout.cli.keeping.shop_record import asked_record
    from stopout.records import book_path

    # A book that is still to be made knows no bath yet.
    opened = book_for_reading(book) if book_path(book).exists() else None
    if opened is None:
        return asked_record(folder, None)
    with opened:
        return asked_record(folder, opened)


def _timed(given: Given) -> None:
    """Keep how long a program took; the next plans' times and corner speeds follow from it.

    Example: stopout shop timed winch-plate-plan --took 14:30
    """
    from stopout.cli.keeping.run_time import run_record, traverse_record

    on = given.date or datetime.date.today().isoformat()
    if given.long is not None and given.short is not None:
        record, speed, acceleration = traverse_record(given.folder, given.long, given.short, on)
        with book_for_keeping(given.book) as opened:
            kept = opened.keep(record)
        a = [acceleration.value, acceleration.sd]
        v = None if speed is None else [speed.value, speed.sd]
        content = {"id": kept.ident, "acceleration_mm_s2": a, "top_speed_mm_s": v}
        top = "the runs were too short for the top speed; leave it as read in the control"
        if v is not None:
            top = f'top speed {v[0]:.1f} +- {v[1]:.1f} mm/s: write top_speed = "{v[0]:.3g} mm/s"'
        words = f"{_kept(kept)}: acceleration {a[0]:.0f} +- {a[1]:.0f} mm/s^2"
        say_done(content, words, top, as_json=given.as_json)
        return
    if given.took is None:
        raise BookError("give --took for a plan's program, or --long and --short for timing runs")
    record = run_record(given.folder, given.took, given.coat, on)
    with book_for_keeping(given.book) as opened:
        kept = opened.keep(record)
    content = {"took_s": record.took_s, "planned_s": record.planned_s, "scale": record.scale}
    say_done(
        {"id": kept.ident, **content},
        f"{_kept(kept)}: {record.name} took {record.took_s:.0f} s, {record.planned_s:.0f} planned: "
        f"acceleration and corners {record.scale:.3g} times as given",
        as_json=given.as_json,
    )


def _bath(given: Given) -> None:
    """Write a line into a bath's ledger; `mixed` begins a new bath.

    Example: stopout shop bath "lye A" mixed --litres 2L --etchant sodium-hydroxide
    """
    from stopout.job.shop_numbers import Bath
    from stopout.records import ledger_dissolved_g_per_l, ledger_litres
    from stopout.tables import canonical, load_etchant

    name, line = given.name, _event(given)
    with book_for_keeping(given.book) as opened:
        there = opened.bath(name)
        if there is None:
            if given.etchant is None or given.event != "mixed":
                raise BookError(
                    f"there is no bath {name!r} yet; begin it with: mixed --litres VOLUME "
                    "--etchant ID"
                )
            etchant = canonical("etchants", given.etchant)
            load_etchant(etchant)
            _check_metal(name, (), line)
            made = Bath(date=line.at[:10], name=name, etchant=etchant, note=given.note)
            opened.keep_all([(made, (line,))])
        else:
            _check_day(name, there.events, line)
            _check_metal(name, there.events, line)
            opened.keep_event(name, line)
        now = opened.bath(name)
    assert now is not None
    litres, dissolved = ledger_litres(now.events), ledger_dissolved_g_per_l(now.events)
    say_done(
        {"name": name, "litres": litres, "dissolved_g_per_l": dissolved},
        f"{name}: {litres:.4g} L, {dissolved:.3g} g/L of metal dissolved",
        as_json=given.as_json,
    )


def _check_day(name: str, events: Sequence[BathEvent], line: BathEvent) -> None:
    """Refuse a line of a day before the bath was first mixed: it would count for nothing."""
    first = min(event.at[:10] for event in events if event.kind == "mixed")
    if line.kind != "mixed" and line.at[:10] < first:
        raise BookError(
            f"{name!r} was first mixed on {first}, after {line.at[:10]}; check --date, or write "
            f"down its earlier mixing first"
        )


def _check_metal(name: str, events: Sequence[BathEvent], line: BathEvent) -> None:
    """Refuse a line after which the bath would hold more metal than any solution does."""
    from stopout.records import ledger_dissolved_g_per_l, ledger_litres

    after = ledger_dissolved_g_per_l([*events, line])
    if after > _MOST_METAL_G_PER_L:
        raise BookError(
            f"{line.metal_g:g} g would make {after:.0f} g/L in the "
            f"{ledger_litres([*events, line]):.3g} L "
            f"of {name!r}; no bath holds {_MOST_METAL_G_PER_L:g}: check the number and its unit"
        )


def _event(given: Given) -> BathEvent:
    from stopout.records.forms import event_from_content

    kind, litres, metal = given.event, given.litres, given.metal
    if kind in ("mixed", "topped-up") and litres is None:
        raise BookError(f"how much was {kind}? give --litres, such as --litres 2L")
    if kind == "etched" and metal is None:
        raise BookError("how much metal went into the bath? give --metal, such as --metal 1.2g")
    at = given.date or datetime.datetime.now().isoformat("T", "seconds")
    content = {"kind": kind, "at": at, "litres": litres, "metal_g": metal}
    content = {key: value for key, value in content.items() if value is not None}
    return event_from_content(content, where="the ledger")


def _there(told: Path | None) -> ShopBook:
    """The book, which must be there; opened so that entries can be taken out as well."""
    from stopout.records import book_path

    opened = book_for_reading(told)
    if opened is None:
        raise BookError(f"nothing is kept yet in {book_path(told)}")
    return opened


def _text(file: Path) -> str:
    """The text of a file handed in."""
    if not file.is_file():
        raise BookError(f"there is no file {file}")
    if file.stat().st_size > _LARGEST_MB * 1_000_000:
        raise BookError(f"{file} is larger than {_LARGEST_MB} MB; that is no export of a book")
    try:
        return file.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise BookError(f"{file} is not UTF-8 text; an export is JSON in UTF-8") from None


def _kept(kept: Kept) -> str:
    return f"kept as entry {kept.ident}" if kept.is_new else f"is entry {kept.ident} already"


def _as_dict(entry: Entry) -> dict[str, Any]:
    from stopout.records import entry_to_dict

    return entry_to_dict(entry)


def _shown(entry: Entry) -> list[str]:
    """An entry in full: one value a line, then a bath's ledger."""
    from stopout.job.shop_numbers import Equipment
    from stopout.library.book_words import equipment_lines

    data = _as_dict(entry)
    lines = [f"entry {entry.ident}, {entry.kind}: {entry_words(entry)}", ""]
    if isinstance(entry.record, Equipment):
        return [lines[0], "", *(f"  {line}" for line in equipment_lines(entry.record))]
    for name, value in _flat(data["content"]):
        lines.append(f"  {name}: {value}")
    for event in entry.events:
        amounts = [f"{event.litres:g} L"] * (event.litres > 0)
        amounts += [f"{event.metal_g:g} g metal"] * (event.metal_g > 0)
        amounts += [event.note] * bool(event.note)
        lines.append(f"  {event.at}  {event.kind}  {', '.join(amounts)}".rstrip())
    return lines


def _flat(content: dict[str, Any]) -> list[tuple[str, str]]:
    """Values that are there, in words: measured ones with their standard deviation."""
    rows = []
    for name, value in content.items():
        if name == "measured":
            rows += [(f"piece {row['piece']}", _piece_words(row)) for row in value]
        elif isinstance(value, dict):
            rows += [(f"{name}.{inner}", words) for inner, words in _flat(value)]
        elif value not in (None, "", [0.0, 0.0]):
            rows.append((name, _words(name, value)))
    return rows


def _piece_words(row: dict[str, Any]) -> str:
    """A piece of a job in a line."""
    parts = []
    if row["depth_mm"]:
        parts.append(" ".join(f"{1000 * depth:.3g}" for depth in row["depth_mm"]) + " um deep")
    if row["time_s"]:
        parts.append(f"{row['time_s'] / 60:.4g} min")
    if row["before_g"] and row["after_g"]:
        parts.append(f"{row['before_g']:g} g before, {row['after_g']:g} g after")
    if row["is_good"] is not None:
        parts.append("good" if row["is_good"] else "not good")
    return ", ".join([*parts, *([row["note"]] if row["note"] else [])]) or "nothing measured"


_MEASURED = ("depth", "undercut", "etch_factor", "rate", "conduction", "incubation")


def _words(name: str, value: Any) -> str:
    if not isinstance(value, list):
        return f"{value:.5g}" if isinstance(value, float) else str(value)
    if isinstance(value[0], list):
        return " and ".join(_words("depth", one) for one in value)
    if name.startswith(_MEASURED):
        return f"{value[0]:.4g}" + (f" (sd {value[1]:.2g})" if value[1] else "")
    return " x ".join(f"{one:g}" for one in value)
