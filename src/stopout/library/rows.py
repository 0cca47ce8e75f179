"""The rows of a series: read one by one, and every mistake in them told with its row."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from itertools import chain
from pathlib import Path

from stopout.errors import JobError, Mistake
from stopout.job.fields import names_in
from stopout.job.record import Job
from stopout.job.series import Counter, Piece, Series

_MOST_BYTES = 200_000_000
_MOST_TOLD = 20
_LONGEST = 2000
# What parts the cells: tables of lands whose decimals have commas are parted by semicolons.
_PARTING = (",", ";", "\t")
# What spreadsheets write in front to say what parts the cells.
_STATED = re.compile(r'sep=(\t|[^\s"])\s*', re.IGNORECASE)
# How ZIP archives and compound files begin: workbooks are one or the other.
_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")


def pieces_of(job: Job, folder: Path) -> tuple[Piece, ...]:
    """Read the pieces of a job's series.

    Parameters
    ----------
    job : Job
        With a series.
    folder : Path
        Where the file of rows lies.

    Returns
    -------
    tuple of Piece
        In the order of the rows.

    Raises
    ------
    JobError
        With the mistakes of the rows, each with its line: fields that are missing or empty,
        numbers that stand twice, texts that are too long, bytes that are not UTF-8.
    """
    assert job.series is not None
    asked = fields_of(job)
    if job.series.count is not None:
        return tuple(_counted(job.series.count))
    return _from_file(folder / (job.series.rows_file or ""), job.series, asked)


def fields_of(job: Job) -> tuple[str, ...]:
    """Return the fields that a job's words and codes ask for, each once."""
    said = [text.words for text in job.setting.texts] + [c.content for c in job.setting.codes]
    return tuple(dict.fromkeys(name for words in said for name in names_in(words)))


def _counted(count: Counter) -> Iterator[Piece]:
    for k in range(count.number):
        number = str(count.start + k * count.step).zfill(count.digits)
        yield Piece(number=number, fields=(("number", number),))


def _from_file(path: Path, series: Series, asked: tuple[str, ...]) -> tuple[Piece, ...]:
    mistakes = _Told(str(path))
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise mistakes.error(1, f"is larger than {_MOST_BYTES / 1e6:.0f} MB; part it")
        with path.open("rb") as start:
            if start.read(4) in _WORKBOOKS:
                raise mistakes.error(None, "is a workbook of a spreadsheet; save it as CSV")
        with path.open(encoding="utf-8-sig", newline="") as stream:
            pieces = _read(stream, series, asked, mistakes)
    except UnicodeDecodeError:
        raise mistakes.error(*_bad_byte(path)) from None
    except OSError as fault:
        reason = (fault.strerror or "it cannot be opened").lower()
        raise mistakes.error(None, f"cannot be read: {reason}") from None
    except csv.Error as fault:
        where = f"is no CSV that can be read from here on: {fault}"
        if str(fault) == "unexpected end of data":
            where = "opens a quotation mark that is never closed"
        raise mistakes.error(mistakes.line + 1, where) from None
    mistakes.end()
    return tuple(pieces)


class _Told:
    """Mistakes of a file, the first of them kept.

    `line` is the last row's that was read whole, `above` how many lines stand above all rows.
    """

    def __init__(self, file: str) -> None:
        self.file, self.kept, self.count = file, list[Mistake](), 0
        self.line = self.above = 0

    def tell(self, line: int, row: str, message: str) -> None:
        self.count += 1
        if self.count <= _MOST_TOLD:
            self.kept.append(Mistake(field=row, message=message, line=line + self.above))

    def error(self, line: int | None, message: str) -> JobError:
        line = None if line is None else line + self.above
        return JobError(self.file, (Mistake(field="the file", message=message, line=line),))

    def end(self) -> None:
        if self.count > _MOST_TOLD:
            more = f"{self.count - _MOST_TOLD} more mistakes are not listed; mend these first"
            self.kept.append(Mistake(field="the file", message=more))
        if self.kept:
            raise JobError(self.file, tuple(self.kept))


def _read(
    stream: Iterator[str], series: Series, asked: tuple[str, ...], told: _Told
) -> list[Piece]:
    first_line = next(stream, "")
    if stated := _STATED.fullmatch(first_line):
        first_line, parting, told.above = next(stream, ""), stated[1], 1
    else:
        parting = max(_PARTING, key=first_line.count)
    reader = csv.reader(chain([first_line], stream), strict=True, delimiter=parting)
    head = [name.strip() for name in next(reader, [])]
    told.line = reader.line_num
    if not any(head):
        raise told.error(1, "names no fields in its first row")
    twice = [name for k, name in enumerate(head) if name in head[:k]]
    if twice:
        raise told.error(1, f"names the field '{twice[0]}' twice; rename one")
    key = series.key or ("number" if "number" in head else None)
    # A row's place always answers to {number}, so that a file needs no column for it.
    known = {*head, "number"}
    if missing := [name for name in (*asked, *([key] if key else [])) if name not in known]:
        raise told.error(1, _lacks(missing[0], head))
    pieces: list[Piece] = []
    first: dict[str, int] = {}
    place = 0
    for row in reader:
        told.line = reader.line_num
        if not any(cell.strip() for cell in row):
            continue
        place += 1
        name = f"row {place}"
        if len(row) != len(head):
            told.tell(reader.line_num, name, f"has {len(row)} cells, not {len(head)}")
            continue
        fields = {field: cell.strip() for field, cell in zip(head, row, strict=True)}
        number = fields[key] if key else str(place)
        fields.setdefault("number", number)
        for fault in _faults(fields, asked, number):
            told.tell(reader.line_num, name, fault)
        if number in first:
            told.tell(reader.line_num, name, f"has the number {number}, as row {first[number]} has")
        first.setdefault(number, place)
        kept = tuple((field, fields[field]) for field in dict.fromkeys((*asked, "number")))
        pieces.append(Piece(number=number, fields=kept))
    if not pieces and not told.count:
        raise told.error(None, "holds no rows below its names")
    return pieces


def _faults(fields: dict[str, str], asked: tuple[str, ...], number: str) -> Iterator[str]:
    if not number:
        yield "has no number"
    for field in asked:
        text = fields[field]
        if not text:
            yield f"has nothing for '{field}'"
        elif len(text) > _LONGEST:
            yield f"has {len(text)} characters for '{field}'; {_LONGEST} are the most"
        elif not text.isprintable():
            yield f"has a character in '{field}' that does not print"


def _lacks(name: str, head: Sequence[str]) -> str:
    """Say that a field is missing, and which one may be meant."""
    alike = [field for field in head if field.casefold() == name.casefold()]
    hint = f"; write {{{alike[0]}}} in the job, or {name} in the file" if alike else ""
    return f"has no field '{name}', which the job asks for; it has {', '.join(head)}{hint}"


def _bad_byte(path: Path) -> tuple[int, str]:
    """Return the line of the first byte that is not UTF-8, and what it may have been meant for."""
    with path.open("rb") as stream:
        if stream.read(2) in (b"\xff\xfe", b"\xfe\xff"):
            return 1, "is UTF-16; save it as CSV in UTF-8"
        stream.seek(0)
        for number, line in enumerate(stream, start=1):
            try:
                line.decode("utf-8")
            except UnicodeDecodeError as fault:
                meant = line[fault.start : fault.start + 1].decode("cp1252", "replace")
                read = f" ({meant!r} in windows-1252)" if meant.isprintable() else ""
                return number, f"holds a byte that is not UTF-8{read}; save it as CSV in UTF-8"
    return 1, "is not UTF-8; save it as CSV in UTF-8"
