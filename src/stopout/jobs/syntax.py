"""From the bytes of a job file to TOML values and lines, or sentences about its syntax.

The standard library's reader stops at the first fault. The commonest faults of this kind are
words and quantities without their quotes (`speed = 20 mm/s`) and keys given twice; those are
told, mended in a copy and read past, so that the rest of the file is checked in the same run.
"""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import dataclass, replace
from typing import Any

from stopout.errors import JobError, Mistake
from stopout.jobs.lines import Lines, dotted, key_lines

LONGEST_BYTES = 1_000_000
UNQUOTED = "must stand in quotes"
# The reader's own words for a key given twice.
_TWICE = "Cannot overwrite a value"
_CURLY = "\u201c\u201d\u201e\u201f\u00ab\u00bb\u2018\u2019\u201a\u201b"
_MOST_REPAIRS = 100
# Each repair reads the text again, which a text beyond any real job file is not worth.
_LONGEST_REPAIRED = 100_000
_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_HEADER = re.compile(r"\s*\[{1,2}\s*([A-Za-z0-9_\-.]+)\s*\]{1,2}\s*(?:#.*)?")
_UNQUOTED = re.compile(
    r"""(?P<key>\s*[A-Za-z0-9_\-."']+[ \t]*=[ \t]*)"""
    r"""(?:(?P<value>[^\s"'\[{#=][^"'\[\]{}#=]*?)|\[(?P<items>[^"'\[\]{}#=]+)\])"""
    r"""(?P<rest>[ \t]*(?:\#.*)?)""",
    re.VERBOSE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What a job file holds: the TOML values, the lines of their keys, and faults mended so far."""

    values: dict[str, Any]
    lines: Lines
    mistakes: tuple[Mistake, ...] = ()


def read_source(data: bytes, *, file: str) -> Source:
    """Read the TOML of a job file.

    Parameters
    ----------
    data : bytes
        The file's bytes: UTF-8, at most 1 MB; a byte order mark in front says nothing.
    file : str
        The file's name, for the error.

    Raises
    ------
    JobError
        If the bytes are not a TOML text.
    """
    text = _decoded(data, file)
    rows = text.split("\n")
    mended: list[Mistake] = []
    while True:
        try:
            values = tomllib.loads("\n".join(rows))
            lines = key_lines("\n".join(rows))
            break
        except tomllib.TOMLDecodeError as error:
            message, line, column = _placed(str(error), rows)
            willing = len(mended) < _MOST_REPAIRS and len(text) < _LONGEST_REPAIRED
            repair = _repaired(message, rows, line) if willing else None
            if repair is None:
                sentence = _sentence(message, rows, line, column)
                fault = Mistake(field="TOML", message=sentence, line=line)
                raise JobError(file, (*mended, fault)) from None
            line, rows[line - 1], field, sentence = repair
            mended.append(Mistake(field=field, message=sentence, line=line))
        except RecursionError:
            raise complaint(file, "lists or tables lie too deep inside each other") from None
        except ValueError:
            # The reader hands numbers to int(), which refuses more than 4300 digits.
            raise complaint(file, "a number has too many digits") from None
    named = tuple(replace(fault, field=_field(fault, lines)) for fault in mended)
    return Source(values=values, lines=lines, mistakes=named)


def _field(fault: Mistake, lines: Lines) -> str:
    """The dotted path of a mended fault, which only the mended text could tell."""
    line = fault.line or 0
    return dotted(lines.on(line) or lines.before(fault.field, line)) or fault.field


def complaint(file: str, message: str, *, line: int | None = None) -> JobError:
    """The error about a job file as a whole."""
    return JobError(file, (Mistake(field="job file", message=message, line=line),))


def _decoded(data: bytes, file: str) -> str:
    if len(data) > LONGEST_BYTES:
        limit = "is larger than 1 MB; a job file is a short text, is this the right file?"
        raise complaint(file, limit)
    data = data.removeprefix(b"\xef\xbb\xbf")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise complaint(file, "is UTF-16; save it as UTF-8", line=1)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - (data.rfind(b"\n", 0, error.start) + 1) + 1
        sentence = f"is not UTF-8 at byte {column} of this line; save it as UTF-8"
        raise complaint(file, sentence, line=line) from None
    return text.replace("\r\n", "\n")


def _placed(message: str, rows: list[str]) -> tuple[str, int, int]:
    """The reader's message without its place, and the place as line and column."""
    place = _PLACE.search(message)
    bare = _PLACE.sub("", message)
    if place is None or place[1] is None:
        # Faults at the end are told at the last line that holds anything.
        line = max((n for n, row in enumerate(rows, 1) if row.strip()), default=1)
        return bare, line, len(rows[line - 1]) + 1
    return bare, min(int(place[1]), len(rows)), int(place[2])


def _repaired(message: str, rows: list[str], line: int) -> tuple[int, str, str, str] | None:
    """The line, its row mended, its key and what to say; None where nothing can be read past."""
    row = rows[line - 1]
    if header := _HEADER.fullmatch(row):
        return _one_of_several(message, rows[:line], header[1])
    if message == _TWICE:
        # Left aside as a comment where the row holds nothing but this one key.
        sentence = _sentence(message, rows, line, 1)
        return (line, f"#{row}", row.split("=")[0].strip(), sentence) if _is_toml(row) else None
    match = _UNQUOTED.fullmatch(row)
    if match is None:
        return None
    if match["items"]:
        quoted = f"[{', '.join(_quoted(item) for item in match['items'].split(','))}]"
    else:
        quoted = _quoted(match["value"])
    mended = match["key"] + quoted
    if not _is_toml(mended):
        return None
    key = match["key"].split("=")[0].strip()
    fault = "has typographic quotes" if set(row) & set(_CURLY) else UNQUOTED
    return line, mended + match["rest"], key, f"{fault}: write {mended.strip()}"


def _one_of_several(message: str, rows: list[str], name: str) -> tuple[int, str, str, str] | None:
    """The first `[coat]` of several, where `[[coat]]` was meant."""
    from stopout.jobs.keys.model import JOB_FILE

    if message != _TWICE and not message.startswith("Cannot declare"):
        return None
    table: Any = JOB_FILE
    for step in name.split("."):
        table = getattr(table, "parts", {}).get(step)
    if not getattr(table, "is_many", False):
        return None
    for line, row in enumerate(rows, start=1):
        header = _HEADER.fullmatch(row)
        if header and header[1] == name and not row.strip().startswith("[["):
            return line, f"[[{name}]]", name, f"is an array of tables; write [[{name}]]"
    return None


def _quoted(value: str) -> str:
    return json.dumps(value.strip().strip(_CURLY), ensure_ascii=False)


def _is_toml(row: str) -> bool:
    try:
        return bool(tomllib.loads(row))
    except ValueError:
        return False


def _sentence(message: str, rows: list[str], line: int, column: int) -> str:
    """One sentence for a fault that cannot be read past."""
    where = f"column {column}"
    if message == _TWICE:
        key = rows[line - 1].split("=")[0].strip()
        first = _first_line_of(key, rows, line)
        return f"{key} is given twice{first}; keep one of them"
    if twice := re.fullmatch(r"Cannot declare \((.*)\) twice", message):
        name = ".".join(re.findall(r"'([^']*)'", twice[1]))
        return f"the table [{name}] is begun twice; put its keys together"
    if message.startswith(("Unterminated string", 'Expected "\'"', "Illegal character '\\n'")):
        return f"a quote is opened and not closed ({where}); close it on the same line"
    if message.startswith(("Invalid hex value", "Unescaped '\\'")):
        return f"a backslash is not read within quotes ({where}); write / in its place"
    if message.startswith(("Illegal character", "Found invalid character")):
        return f"holds a character that TOML does not allow ({where}); leave it out"
    if message.startswith("Expected '=' after a key"):
        return f'a key needs "=" and a value after it ({where}), such as width = "92 mm"'
    if message.startswith(("Unclosed array", "Unclosed inline table")):
        return f"a bracket is opened and not closed ({where})"
    if message.startswith("Expected ']"):
        return f"a table's header needs its closing brackets ({where}), such as [blank]"
    if message.startswith("Invalid value"):
        like = '"92 mm", 4, true or ["8 mm", "8 mm"]'
        return f"the value cannot be read ({where}); write it like {like}"
    return f"is not TOML at {where}: {message[:1].lower()}{message[1:160]}"


def _first_line_of(key: str, rows: list[str], line: int) -> str:
    """Where the same table gives the key before, if that is plain to see."""
    for earlier in range(line - 2, -1, -1):
        row = rows[earlier].strip()
        if row.split("=")[0].strip() == key and "=" in row:
            return f", first on line {earlier + 1}"
        if row.startswith("["):
            break
    return ""
