"""The one way in which the command speaks: every number can be measured, every letter be shown."""

from __future__ import annotations

import json
import sys
from typing import Any

from stopout.wording import measurable


def say(text: object = "", *, to_stderr: bool = False, ends_line: bool = True) -> None:
    """Tell a person something.

    Parameters
    ----------
    text : object
        The words; numbers beyond what can be measured are told in words.
    to_stderr : bool
        Beside the result rather than with it: findings, notes, cautions.
    ends_line : bool
        Whether the line is full.
    """
    say_as_it_is(measurable(str(text)), to_stderr=to_stderr, ends_line=ends_line)


def say_as_it_is(text: str, *, to_stderr: bool = False, ends_line: bool = True) -> None:
    """Hand on the text of a file, every byte of it, or what a stream cannot show as its code."""
    stream = sys.stderr if to_stderr else sys.stdout
    # A name of the disk may hold bytes that are no letters, and a terminal may know few letters.
    encoding = getattr(stream, "encoding", None) or "utf-8"
    shown = text.encode(encoding, "backslashreplace").decode(encoding)
    print(shown, file=stream, end="\n" if ends_line else "", flush=True)


def say_json(content: Any) -> None:
    """Print a value for another program."""
    say_as_it_is(json.dumps(content, indent=2, ensure_ascii=False))


def say_done(content: Any, *lines: str, as_json: bool) -> None:
    """Tell what was done: one document for another program, or lines for a person.

    Parameters
    ----------
    content : Any
        What JSON can hold.
    *lines : str
        The same in words.
    as_json : bool
        Which of them is told.
    """
    if as_json:
        say_json(content)
        return
    for line in lines:
        say(line)
