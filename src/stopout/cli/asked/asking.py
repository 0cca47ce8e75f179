"""Questions at the terminal, one after another, with a way back and nothing lost by it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from stopout.cli.speech.telling import say
from stopout.errors import StopoutError

BACK, END, NOTHING = "back", "end", "-"


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question.

    Attributes
    ----------
    key : str
        Names its answer.
    words : str
        As asked, with the unit.
    read : callable
        Turns the typed text into the value, or raises a `StopoutError` that says what is due.
    usual : callable
        Given the answers so far, the text that Enter alone stands for; "" for no answer.
    group : str
        Questions of one group are passed over together by `end`.
    is_needed : bool
        Whether it is asked until it is answered.
    is_due : callable
        Given the values so far, whether it is asked at all.
    """

    key: str
    words: str
    read: Callable[[str], Any]
    usual: Callable[[dict[str, str]], str] = lambda _: ""
    group: str = ""
    is_needed: bool = False
    is_due: Callable[[dict[str, Any]], bool] = lambda _: True


def ask_all(questions: Sequence[Question], typed: dict[str, str] | None = None) -> dict[str, Any]:
    """Ask each question until its answer can be read; return the values of those answered.

    `typed` holds what was typed in an earlier round, by key, and takes what is typed in this one.

    Enter alone takes what stands in brackets, `-` leaves the question open, `back` returns to the
    one before, where its answer stands in brackets. `end` passes over what is left of a group.

    Raises
    ------
    StopoutError
        If the input ends before the last question.
    """
    typed = {} if typed is None else typed
    values: dict[str, Any] = {}
    at = 0
    while at < len(questions):
        question = questions[at]
        if not question.is_due(values):
            at += 1
            continue
        text = _line(question, typed)
        if text.casefold() == BACK:
            at = _before(questions, at, values)
            continue
        if text.casefold() == END and question.group:
            while at < len(questions) and questions[at].group:
                values.pop(questions[at].key, None)
                at += 1
            continue
        if text in ("", NOTHING) and question.is_needed:
            say("  this one is needed", to_stderr=True)
            continue
        if text in ("", NOTHING):
            # An answer that is taken back is remembered as such: its default must not return.
            typed[question.key] = NOTHING if text else ""
            values.pop(question.key, None)
            at += 1
            continue
        try:
            values[question.key] = question.read(text)
        except StopoutError as error:
            say(f"  {error}", to_stderr=True)
            continue
        typed[question.key] = text
        at += 1
    return values


def _before(questions: Sequence[Question], at: int, values: dict[str, Any]) -> int:
    """Return the place of the question asked before this one."""
    asked = [number for number in range(at) if questions[number].is_due(values)]
    return asked[-1] if asked else 0


def _line(question: Question, typed: dict[str, str]) -> str:
    usual = typed.get(question.key) or question.usual(typed)
    shown = f" [{usual}]" if usual else ""
    say(f"{question.words}{shown}: ", ends_line=False)
    line = sys.stdin.readline()
    if not line:
        say()
        asked = question.words.strip().splitlines()[0]
        raise StopoutError(f"the answers end at: {asked}; nothing was kept")
    return line.strip() or usual
