"""A help text laid out in boxes as wide as the terminal, without a library for that.

The parser's own layout loads one that takes longer than all else a help text needs. This one gives
the same letters (`tests/cli/test_help.py` holds the two to each other) and the same colours.
"""

from __future__ import annotations

import inspect
import os
import re
import sys
import textwrap
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from typer.core import TyperArgument

__all__ = ["help_page", "page_width"]

_GAP = 2
# Columns between an option's long form and its type that hold nothing here: each has its gap.
_NEVER_FILLED = 2
_LEAST_HELP = 16
_BOX, _ASCII_BOX = tuple("╭─╮│╰╯"), tuple("+-+|++")
_STYLES = (
    (re.compile(r"(?<![\w-])--[\w-]+"), "1;36"),
    (re.compile(r"(?<![\w-])-\w(?![\w-])"), "1;32"),
    (re.compile(r"\[(?:default: [^\]]*)\]"), "2"),
    (re.compile(r"\[required\]"), "2;31"),
    (re.compile(r"Usage:"), "33"),
)
Rows = list[tuple[list[str], list[str]]]  # the narrow columns, the paragraphs of the help


def help_page(command: Any, ctx: Any, listed: Iterable[tuple[str, str]], *, width: int) -> str:
    """Lay out what a command says of itself.

    Parameters
    ----------
    command, ctx
        The parser's command and the context that it was called in.
    listed : iterable of (str, str)
        Name and help of each command of a group.
    width : int
        Letters a line.

    Returns
    -------
    str
        Lines; empty where they have no room, which a wider terminal has.
    """
    params = [param for param in command.get_params(ctx) if not getattr(param, "hidden", False)]
    arguments = [param for param in params if isinstance(param, TyperArgument)]
    options = [param for param in params if not isinstance(param, TyperArgument)]
    boxes = [("Arguments", _columns(arguments))]
    names = dict.fromkeys(["Options", *(_panel(param) for param in options)])
    boxes += [(name, _columns([one for one in options if _panel(one) == name])) for name in names]
    commands = [(name, _first_paragraph(said)) for name, said in listed]
    boxes.append(("Commands", [([name], [said]) for name, said in commands]))
    lines = ["", *_usage(command, ctx), "", *_said(command.help or "", width)]
    for name, rows in boxes:
        if rows:
            inside = list(_table(rows, width - 4, is_bold=name == "Commands"))
            if not inside:
                return ""
            lines += _boxed(name, inside, width)
    return "\n".join(lines) + "\n"


def page_width() -> int:
    """Return how many letters a line of this terminal has, 80 where there is none."""
    for name in ("TERMINAL_WIDTH", "COLUMNS"):
        if os.environ.get(name, "").isdigit():
            return int(os.environ[name])
    for stream in (sys.__stdin__, sys.__stdout__, sys.__stderr__):
        try:
            if stream is not None and (found := os.get_terminal_size(stream.fileno()).columns):
                return found
        except (OSError, ValueError):
            continue
    return 80


def _panel(param: Any) -> str:
    return str(getattr(param, "rich_help_panel", None) or "Options")


def _usage(command: Any, ctx: Any) -> list[str]:
    return [f" {_styled(line, '1')}" for line in command.get_usage(ctx).splitlines()]


def _said(text: str, width: int) -> Iterator[str]:
    """The first paragraph, then the others paler, each followed by an empty line."""
    paragraphs = inspect.cleandoc(text).split("\n\n")
    for k, paragraph in enumerate(paragraphs if text else []):
        lines = paragraph.split("\n") if k else [paragraph.replace("\n", " ").strip()]
        for line in lines:
            for row in _wrapped(line, width - 2):
                yield f" {_styled(row, '2' if k else '')}"
        yield ""


def _columns(params: list[Any]) -> Rows:
    """A row for each parameter: whether it must be given, its forms, what it takes, its help."""
    must = any(param.required for param in params)
    rows: Rows = []
    for param in params:
        if isinstance(param, TyperArgument):
            forms, taken = ["", param.metavar or str(param.name).upper()], ""
        else:
            forms = [",".join(opt for opt in param.opts if opt.startswith("--") == is_long)
                     for is_long in (True, False)]  # fmt: skip
            taken = param.metavar or ""
        needed = ["*" if param.required else ""] if must else []
        words = [(param.help or "").replace("\\[", "[")]
        default = None if getattr(param, "is_flag", False) else param.default
        if isinstance(default, str | int | float | Path) and default != "":
            words.append(f"[default: {default}]")
        if param.required:
            words.append("[required]")
        rows.append(([*needed, *forms, *[""] * _NEVER_FILLED, taken], words))
    return rows


def _table(rows: Rows, width: int, *, is_bold: bool) -> Iterator[str]:
    """Columns side by side, the help in what is left; nothing where too little is."""
    wide = [max(map(len, column)) for column in zip(*(narrow for narrow, _ in rows), strict=True)]
    room = width - sum(wide) - _GAP * len(wide)
    if room < max(_LEAST_HELP, *wide):
        return
    for narrow, words in rows:
        joined = " ".join(words)
        texts = [joined] if len(joined) <= room else words
        beside = [line for text in texts for line in _wrapped(text, room)] or [""]
        for k, line in enumerate(beside):
            cells = narrow if k == 0 else [""] * len(narrow)
            padded = [cell.ljust(most) for cell, most in zip(cells, wide, strict=True)]
            if is_bold:
                padded[0] = _styled(padded[0], "1;36")
            elif padded:
                padded[-1] = _styled(padded[-1], "1;33")
            row = (" " * _GAP).join([*padded, line.ljust(room)])
            yield row if is_bold else _styled(row)


def _boxed(name: str, lines: list[str], width: int) -> Iterator[str]:
    encoding = (getattr(sys.stdout, "encoding", None) or "utf-8").lower()
    left, flat, right, side, low_left, low_right = _BOX if "utf" in encoding else _ASCII_BOX
    edge = _styled(side, "2")
    top = f"{left}{flat} {name} ".ljust(width - 1, flat) + right
    yield _styled(top, "2")
    for line in lines:
        yield f"{edge} {line} {edge}"
    yield _styled(low_left + flat * (width - 2) + low_right, "2")


def _first_paragraph(text: str) -> str:
    return inspect.cleandoc(text).split("\n\n")[0].replace("\n", " ").strip()


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, break_on_hyphens=False, break_long_words=True)


def _styled(text: str, whole: str = "") -> str:
    """Put colours on a terminal: all of a text, or its options, switches and marks."""
    if not _is_coloured() or not text.strip():
        return text
    if whole:
        back = f"\x1b[0m\x1b[{whole}m"
        inner = text.replace("\x1b[0m", back)
        return f"\x1b[{whole}m{inner}\x1b[0m"
    for pattern, style in _STYLES:
        text = pattern.sub(rf"\x1b[{style}m\g<0>\x1b[0m", text)
    return text


def _is_coloured() -> bool:
    if "NO_COLOR" in os.environ or os.environ.get("TERM", "") in ("dumb", "unknown"):
        return False
    return bool(getattr(sys.stdout, "isatty", bool)())
