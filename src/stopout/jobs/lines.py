"""Where each key of a TOML text stands.

The standard library's TOML reader gives values without their lines. `key_lines` walks a text
that the reader has already accepted and notes the line of every key, table header and list
element, so it may trust the syntax and need not understand the values.
"""

from __future__ import annotations

import re

Path = tuple[str | int, ...]

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_SCALAR = re.compile(r"[^,\]}\n#]*")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}(?!")'
    r"|'''.*?'{3,5}(?!')"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(.))")
# No key of the job file lies deeper; what does is unknown, and its outer table says so.
_DEEPEST = 8
_ESCAPED = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", "e": "\x1b"}


class Lines:
    """The lines of a text's keys, counted from 1; list elements count from 0 in a path."""

    def __init__(self, found: dict[Path, int]) -> None:
        self._found = found

    def exact(self, path: Path) -> int | None:
        """The line of the key, header or element itself, None where it does not stand there."""
        return self._found.get(path)

    def nearest(self, path: Path) -> int | None:
        """The line of the key, or of the nearest thing around it."""
        while path:
            if path in self._found:
                return self._found[path]
            path = path[:-1]
        return None

    def on(self, line: int) -> Path:
        """The longest path of a key that stands on a line; empty where none does."""
        here = (path for path, at in self._found.items() if at == line)
        return max((path for path in here if isinstance(path[-1], str)), key=len, default=())

    def before(self, key: str, line: int) -> Path:
        """The path of the last such key above a line; empty where there is none."""
        above = [(at, path) for path, at in self._found.items() if path[-1] == key and at < line]
        return max(above, key=lambda found: found[0])[1] if above else ()


def key_lines(text: str) -> Lines:
    """Find the line of every key of a valid TOML text.

    Parameters
    ----------
    text : str
        A text that the TOML reader accepts (of another text some keys may be missed).

    Returns
    -------
    Lines
        Paths such as `("blank", "hole", 1, "at", 0)` and their lines.

    Examples
    --------
    >>> lines = key_lines('[a]\\n"b.c" = [\\n  1,\\n  2]\\n')
    >>> lines.exact(("a",)), lines.exact(("a", "b.c")), lines.exact(("a", "b.c", 1))
    (1, 2, 4)
    """
    walk = _Walk(text)
    walk.statements()
    return Lines(walk.found)


def dotted(path: Path) -> str:
    """Write a path as messages name it; list elements count from 1 there.

    Examples
    --------
    >>> dotted(("blank", "hole", 1, "diameter"))
    'blank.hole[2].diameter'
    """
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            shown = part if _BARE_KEY.fullmatch(part) else _quoted(part)
            text += f".{shown}" if text else shown
    return text


def _quoted(key: str) -> str:
    clean = "".join(c if c.isprintable() else "?" for c in key)
    return f'"{clean[:40]}"'


class _Walk:
    """One pass over the text; `pos` only grows."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.pos = 0
        self.found: dict[Path, int] = {}
        self._counts: dict[Path, int] = {}
        self._line = 1
        self._counted = 0

    def statements(self) -> None:
        table: Path = ()
        while True:
            self._skip(_BLANK)
            if self.pos >= len(self.text):
                return
            before = self.pos
            if self.text.startswith("[[", self.pos):
                table = self._header(2)
            elif self.text[self.pos] == "[":
                table = self._header(1)
            else:
                self._pair(table)
            if self.pos == before:
                # Not TOML after all: without this the walk would stand still.
                self.pos += 1

    def _header(self, brackets: int) -> Path:
        self.pos += brackets
        line = self._line_here()
        path = self._inside(self._key())
        self._note(path, line)
        if brackets == 2:
            count = self._counts.get(path, 0)
            self._counts[path] = count + 1
            path = (*path, count)
            self._note(path, line)
        self.pos += brackets
        return path

    def _inside(self, keys: tuple[str, ...]) -> Path:
        """A header's path: a step through an array of tables means its latest element."""
        path: Path = ()
        for place, key in enumerate(keys):
            path = (*path, key)
            if place < len(keys) - 1 and path in self._counts:
                path = (*path, self._counts[path] - 1)
        return path

    def _pair(self, table: Path) -> None:
        line = self._line_here()
        path = (*table, *self._key())
        self._note(path, line)
        self._skip(_SPACE)
        if self.text.startswith("=", self.pos):
            self.pos += 1
            self._skip(_SPACE)
            self._value(path)

    def _key(self) -> tuple[str, ...]:
        keys: list[str] = []
        while True:
            self._skip(_SPACE)
            if quoted := _STRING.match(self.text, self.pos):
                self.pos = quoted.end()
                keys.append(_unquoted(quoted[0]))
            elif bare := _BARE_KEY.match(self.text, self.pos):
                self.pos = bare.end()
                keys.append(bare[0])
            self._skip(_SPACE)
            if not self.text.startswith(".", self.pos):
                return tuple(keys[:_DEEPEST])
            self.pos += 1

    def _value(self, path: Path) -> None:
        opening = self.text[self.pos : self.pos + 1]
        if opening == "[":
            self._list(path)
        elif opening == "{":
            self._inline_table(path)
        elif string := _STRING.match(self.text, self.pos):
            self.pos = string.end()
        else:
            self._skip(_SCALAR)

    def _list(self, path: Path) -> None:
        self.pos += 1
        count = 0
        while True:
            self._skip(_BLANK)
            if self._ended("]"):
                return
            element = (*path, count)
            self._note(element, self._line_here())
            before = self.pos
            self._value(element)
            count += 1
            self._skip(_BLANK)
            self._step_over(",", before)

    def _inline_table(self, path: Path) -> None:
        self.pos += 1
        while True:
            self._skip(_BLANK)
            if self._ended("}"):
                return
            before = self.pos
            self._pair(path)
            self._skip(_BLANK)
            self._step_over(",", before)

    def _ended(self, bracket: str) -> bool:
        if self.pos >= len(self.text):
            return True
        if self.text[self.pos] != bracket:
            return False
        self.pos += 1
        return True

    def _step_over(self, comma: str, before: int) -> None:
        if self.text.startswith(comma, self.pos) or self.pos == before:
            self.pos += 1

    def _skip(self, pattern: re.Pattern[str]) -> None:
        if match := pattern.match(self.text, self.pos):
            self.pos = match.end()

    def _note(self, path: Path, line: int) -> None:
        # A dotted key makes the tables on its way; the first mention is where they stand.
        for length in range(1, min(len(path), _DEEPEST) + 1):
            self.found.setdefault(path[:length], line)

    def _line_here(self) -> int:
        self._line += self.text.count("\n", self._counted, self.pos)
        self._counted = self.pos
        return self._line


def _unquoted(text: str) -> str:
    """The key that a quoted key stands for."""
    if text.startswith("'"):
        return text[1:-1]

    def plain(match: re.Match[str]) -> str:
        if code := match[1] or match[2]:
            return chr(int(code, 16))
        return _ESCAPED.get(match[3], match[3])

    return _ESCAPE.sub(plain, text[1:-1])
