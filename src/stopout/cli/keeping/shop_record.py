"""`stopout shop record`: what was measured on a finished job, asked question by question."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stopout.cli.asked.asking import Question, ask_all
from stopout.cli.keeping.run_time import clock_seconds
from stopout.cli.speech.telling import say
from stopout.errors import BookError, StopoutError, UnitError
from stopout.units import parse_length_mm, parse_mass_g, parse_temperature_degc, six_digits

if TYPE_CHECKING:
    from stopout.job.shop_numbers import JobRecord
    from stopout.records import ShopBook
    from stopout.sheet.model import BenchSums, Lane

_SHEET_FILE = "sheet.json"
_COUPON = "coupon"
# A depth or an undercut beyond these is a slip of the unit: no gauge of a bench tells less, no
# plate is thicker. Our own limits, no source.
_LEAST_UM, _MOST_UM = 0.5, 20_000.0
_HINT = (
    "Enter takes what stands in brackets, or leaves it open;\n- leaves it open, back goes one "
    "back, end passes over the other pieces."
)


def asked_record(folder: Path, book: ShopBook | None) -> JobRecord | None:
    """Ask for everything that a record holds; None where the person will not keep it.

    What is typed makes the same content as the page's record file, and is read by the same form.

    Parameters
    ----------
    folder : Path
        Of a plan.
    book : ShopBook or None
        Whose baths may be named.

    Raises
    ------
    StopoutError
        If the folder holds no plan of an etch, or the answers end early.
    """
    from stopout.records import record_from_bench

    bench = _bench(folder)
    questions = _questions(bench, () if book is None else tuple(_bath_names(book)))
    say(f"{dict(bench.known)['name']}. {_HINT}")
    typed: dict[str, str] = {}
    while True:
        answers = ask_all(questions, typed)
        try:
            record = record_from_bench(_content(bench, answers), where="the answers")
        except BookError as error:
            say(f"  {error}", to_stderr=True)
            say("Once more; what was typed stands in brackets.")
            continue
        for line in _known_words(record):
            say(line)
        return record if _is_wanted() else None


def _is_wanted() -> bool:
    sure = Question(
        key="sure", words="keep this in the shop book?", read=_yes_or_no, usual=lambda _: "yes"
    )
    return bool(ask_all([sure]).get("sure", False))


def _bench(folder: Path) -> BenchSums:
    from stopout.sheet import read_sheet

    path = folder / _SHEET_FILE
    if not path.is_file():
        raise BookError(
            f"{folder} holds no {_SHEET_FILE}, so it is not a plan's folder with a sheet; plan "
            "the job again with stopout plan"
        )
    try:
        sheet, _ = read_sheet(path.read_bytes())
    except StopoutError as error:
        raise BookError(f"{path} {error}") from None
    if sheet.is_stop:
        raise BookError(f"the plan in {folder} says STOP: it must not have been worked")
    if sheet.bench is None:
        raise BookError(
            f"the plan in {folder} etches nothing, or is of an earlier version; the shop book "
            "keeps etches, so there is nothing to record (or plan the job again)"
        )
    return sheet.bench


def _bath_names(book: ShopBook) -> list[str]:
    from stopout.job.shop_numbers import Bath

    records = [entry.record for entry in book.entries("bath")]
    return [record.name for record in records if isinstance(record, Bath)]


def _questions(bench: BenchSums, baths: tuple[str, ...]) -> list[Question]:
    known = dict(bench.known)
    today = datetime.date.today().isoformat()
    bath_words = f"bath's name in the shop book ({', '.join(baths)})" if baths else (
        "bath's name, if the shop book keeps one"
    )  # fmt: skip
    questions = [
        Question(key="date", words="date of the etch", read=_day, usual=lambda _: today),
        Question(
            key="temperature_degc",
            words="bath, mean temperature, degC",
            read=_degrees,
            usual=lambda _: f"{known['temperature_degc']:g}",
        ),
        Question(key="bath", words=bath_words, read=_bath_reader(baths)),
    ]
    for lane in bench.lanes:
        for piece in lane.pieces:
            questions += _of_piece(lane, piece)
    return [
        *questions,
        Question(key="undercut_mm", words="undercut per edge, um", read=_depth_mm),
        Question(key="note", words="anything worth knowing", read=str),
    ]


def _of_piece(lane: Lane, piece: str) -> list[Question]:
    """The questions on one piece; those of a batch share the time of its first."""
    name = "coupon" if piece == _COUPON else f"piece {piece}"
    first = f"{lane.pieces[0]}.time_s"
    group = "" if piece == _COUPON else "pieces"

    def usual_time(typed: dict[str, str]) -> str:
        return "" if piece == lane.pieces[0] else typed.get(first, "").removeprefix("-")

    asked: list[tuple[str, str, Callable[[str], Any]]] = [
        ("depth_mm", "depth, um, one or more readings", _depths_mm)
    ]
    if piece != _COUPON:
        asked += [
            ("before_g", "weight before the etch, g", _grams),
            ("after_g", "weight after it, g", _grams),
            ("is_good", "good? yes or no", _yes_or_no),
        ]
    return [
        Question(
            key=f"{piece}.time_s",
            words=f"{name}: time in the bath, min",
            read=_minutes_s,
            usual=usual_time,
            group=group,
        ),
        *(
            Question(key=f"{piece}.{key}", words=f"{name}: {words}", read=read, group=group)
            for key, words, read in asked
        ),
    ]


def _content(bench: BenchSums, answers: dict[str, Any]) -> dict[str, Any]:
    rows: dict[str, dict[str, Any]] = {}
    content: dict[str, Any] = {"format": "stopout-record-2", **dict(bench.known)}
    for key, value in answers.items():
        piece, dot, field = key.partition(".")
        if dot:
            rows.setdefault(piece, {})[field] = value
        else:
            content[key] = value
    content.setdefault("date", datetime.date.today().isoformat())
    coupon = rows.pop(_COUPON, None)
    if coupon:
        content["coupon"] = coupon
    content["pieces"] = [{"piece": piece, **row} for piece, row in rows.items()]
    return content


def _known_words(record: JobRecord) -> list[str]:
    """What a record comes to, in a few lines to look over before it is kept."""
    depth = record.depth_mm
    rate = 60_000 * depth.value / record.time_s
    spread = f" (sd {1000 * depth.sd:.2g})" if depth.sd else ""
    lines = [
        f"{record.name}, {record.date}: {1000 * depth.value:.3g} um{spread} in "
        f"{record.time_s / 60:.4g} min at {record.temperature_degc:g} degC: {rate:.3g} um/min"
    ]
    if record.undercut_mm is not None:
        under = record.undercut_mm.value
        lines.append(f"undercut {1000 * under:.3g} um: etch factor {depth.value / under:.3g}")
    if record.metal_removed_g is not None:
        where = f" into the bath {record.bath!r}" if record.bath else ""
        lines.append(f"{record.metal_removed_g:.4g} g of metal{where}")
    return lines


def _plain(text: str, unit: str) -> str:
    """A number alone gets the unit that was asked for; a decimal comma is a point."""
    text = text.strip().strip(",;").replace(",", ".")
    return f"{text} {unit}" if re.fullmatch(r"[0-9.]+", text) else text


def _depth_mm(text: str) -> float:
    value = _told(parse_length_mm, _plain(text, "um"), "a length, such as 58 or 58 um")
    if not _LEAST_UM <= 1000 * value <= _MOST_UM:
        raise BookError(f"{1000 * value:g} um cannot be: it is asked in um, such as 58 or 0.058 mm")
    return six_digits(value)


def _depths_mm(text: str) -> list[float]:
    joined = re.sub(r"\s+(?=[a-zA-Zµμ])", "", text)
    return [_depth_mm(part) for part in re.split(r"[;\s]+", joined.strip()) if part.strip(",")]


def _minutes_s(text: str) -> float:
    plain = _plain(text, "min")
    try:
        value = clock_seconds("time", plain)
    except BookError:
        raise BookError(f"{text!r} is no time; minutes (27.5), or 27:30") from None
    if value <= 0:
        raise BookError("a time in the bath is above zero")
    return six_digits(value)


def _grams(text: str) -> float:
    value = _told(parse_mass_g, _plain(text, "g"), "a weight, such as 12.34 or 12.34 g")
    if value <= 0:
        raise BookError("a weight is above zero")
    return value


def _degrees(text: str) -> float:
    value = _told(parse_temperature_degc, _plain(text, "degC"), "a temperature, such as 41")
    if not 0 < value < 100:
        raise BookError(f"{value:g} degC is no bath of water; it lies between 0 and 100")
    return value


def _told(read: Callable[[str], float], text: str, due: str) -> float:
    try:
        return read(text)
    except UnitError:
        raise BookError(f"{text!r}: {due} is due") from None


def _day(text: str) -> str:
    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError:
        raise BookError(f"{text!r}: a date is written year-month-day, as 2026-11-20") from None


def _yes_or_no(text: str) -> bool:
    word = text.casefold()
    if word not in ("y", "yes", "n", "no"):
        raise BookError(f"{text!r}: yes or no")
    return word.startswith("y")


def _bath_reader(baths: tuple[str, ...]) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text in baths:
            return text
        known = ", ".join(baths) or "none yet: begin one with stopout shop bath"
        raise BookError(f"the shop book knows no bath {text!r}; it knows {known}")

    return read
