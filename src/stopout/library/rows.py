"""The rows of a series: read one by one, and every mistake in them told with its row."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

from stopout.errors import JobError, Mistake
from stopout.job.fields import names_in
from stopout.job.record import Job
from stopout.job.series import Counter, Piece, Series

_MOST_BYTES = 200_000_000
_MOST_TOLD = 20
_LONGEST = 2000


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
        with path.open(encoding="utf-8-sig", newline="") as stream:
            pieces = _read(stream, series, asked, mistakes)
    except UnicodeDecodeError:
        raise mistakes.error(_line_of_bad_byte(path), "is not UTF-8; save it as UTF-8") from None
    except OSError as fault:
        reason = (fault.strerror or "it cannot be opened").lower()
        raise mistakes.error(None, f"cannot be read: {reason}") from None
    except csv.Error as fault:
        raise mistakes.error(None, f"is no CSV that can be read: {fault}") from None
    mistakes.end()
    return tuple(pieces)


class _Told:
    """Mistakes of a file, the first of them kept."""

    def __init__(self, file: str) -> None:
        self.file, self.kept, self.count = file, list[Mistake](), 0

    def tell(self, line: int, row: str, message: str) -> None:
        self.count += 1
        if self.count <= _MOST_TOLD:
            self.kept.append(Mistake(field=row, message=message, line=line))

    def error(self, line: int | None, message: str) -> JobError:
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
    reader = csv.reader(stream, strict=True)
    head = [name.strip() for name in next(reader, [])]
    if not any(head):
        raise told.error(1, "names no fields in its first row")
    twice = [name for k, name in enumerate(head) if name in head[:k]]
    if twice:
        raise told.error(1, f"names the field '{twice[0]}' twice; rename one")
    key = series.key or ("number" if "number" in head else None)
    # A row's place always answers to {number}, so that a file needs no column for it.
    known = {*head, "number"}
    if missing := [name for name in (*asked, *([key] if key else [])) if name not in known]:
        raise told.error(
            1, f"has no field '{missing[0]}', which the job asks for; it has {', '.join(head)}"
        )
    pieces: list[Piece] = []
    first: dict[str, int] = {}
    for place, row in enumerate(reader, start=1):
        if not any(cell.strip() for cell in row):
            continue
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


def _line_of_bad_byte(path: Path) -> int:
    with path.open("rb") as stream:
        for number, line in enumerate(stream, start=1):
            try:
                line.decode("utf-8")
            except UnicodeDecodeError:
                return number
    return 1
