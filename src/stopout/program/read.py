"""Program text -> moves: a strict interpreter that refuses whatever it does not know."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NoReturn

import numpy as np

from stopout.errors import ProgramError
from stopout.program.words import beam_code, line_width, m_code, mm_per_unit
from stopout.values import FloatArray, Machine, Moves

_NUMBER = r"[+-]?(?:\d{1,9}(?:\.\d{0,9})?|\.\d{1,9})"
_WORD = re.compile(rf"([A-Z])({_NUMBER})(?![\d.])")
_COMMENT = re.compile(r"\([^()]*\)")
# What `write_program` writes for a move; anything else takes the longer way through `_words`.
_MOVE = re.compile(
    r"G([01]) X(-?\d{1,9}\.\d{1,9}) Y(-?\d{1,9}\.\d{1,9})"
    r"(?: F(\d{1,9}(?:\.\d{1,9})?))?(?: S(\d{1,9}(?:\.\d{1,9})?))?"
).fullmatch

# Characters that are read at once.
_BLOCK = 10_000
# The columns of what is read: x, y, rapid, speed and power, in the program's units of length.
_Columns = tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]


def count_stops(text: str) -> int:
    """Return how often a program stops and waits for a start: its `M0` lines."""
    return sum(line.strip() == "M0" for line in text.splitlines())


def read_program(text: str, *, machine: Machine) -> Moves:
    """Read a program back into moves.

    Parameters
    ----------
    text : str
        The program, in the format of docs/reference/program.md.
    machine : Machine
        Supplies the words that it may be given, `power_word` and the speed of travels,
        `top_speed_mm_s`.

    Returns
    -------
    Moves
        One entry for each line that moves, from rest at (0, 0).

    Raises
    ------
    ProgramError
        With the line, for anything but what the format allows: an unknown word, a number that
        cannot be read, a move before the machine's first words, the beam on during a travel or
        while standing, a stop (`M0`) that does not come at (0, 0) right after `M5`, or after which
        the beam is not enabled anew, an S outside 0..`power_word`, a cut without F, no `M5` at the
        end, text after it, a line longer than the machine reads, or line endings that it does not.

    Notes
    -----
    Words keep their value until they are given again (ISO 6983-1: modal), F and S of a line hold
    from that line's move on.
    """
    _refuse_unreadable(text, machine)
    control = _Control(machine)
    number = 0
    for lines in _blocks(text):
        if not control.move_along(lines):
            for place, line in enumerate(lines, start=number + 1):
                _read_line(control, place, line)
        number += len(lines)
    return control.finish(number)


def _blocks(text: str) -> Iterator[list[str]]:
    """Yield a text's lines, some thousand at a time: a panel's program has millions."""
    begin = 0
    while begin < len(text):
        end = text.find("\n", begin + _BLOCK) + 1 or len(text)
        yield text[begin:end].splitlines()
        begin = end


def _read_line(control: _Control, number: int, line: str) -> None:
    move = _MOVE(line)
    if move is not None:
        g, x, y, f, s = move.groups()
        control.set_values(number, f, s)
        control.move(number, g, float(x), float(y))
    elif line and not line.isspace():
        _obey(control, number, line)


def _refuse_unreadable(text: str, machine: Machine) -> None:
    """Refuse lines that the machine's control would not read as they stand."""
    if machine.line_ending == "crlf" and text.count("\r\n") != text.count("\n"):
        raise ProgramError("lines must end in carriage return and line feed for this machine")
    width = line_width(machine)
    if width is None:
        return
    before = 0
    for lines in _blocks(text):
        for number, line in enumerate(lines, start=before + 1):
            if len(line) > width:
                raise ProgramError(
                    f"line {number} has {len(line)} characters; this machine reads {width}: give "
                    "fewer machine.decimals, or a longer machine.longest_line"
                )
        before += len(lines)


def _obey(control: _Control, number: int, line: str) -> None:
    """Carry out a line that is not a plain move of our own."""
    if control.is_end_word(line):
        return
    if control.ended_at and line.strip() == "M0":
        control.stop(number)
        return
    control.refuse_after_end(number)
    words = _words(number, line)
    if not words:
        return
    values = {letter: text for letter, text in words if letter not in "GM"}
    codes = [(letter, float(text)) for letter, text in words if letter in "GM"]
    _refuse_strangers(number, line, values, codes)
    for letter, code in codes:
        control.switch(number, letter, code, alone=len(words) == 1, moves="X" in values)
    control.set_values(number, values.get("F"), values.get("S"))
    if "X" in values or "Y" in values:
        x = float(values["X"]) if "X" in values else control.x
        y = float(values["Y"]) if "Y" in values else control.y
        control.move(number, control.mode, x, y)
    else:
        control.stand(number)


def _words(number: int, line: str) -> list[tuple[str, str]]:
    """Split a line into words; comments and blanks go."""
    plain = _COMMENT.sub(" ", line)
    left = _WORD.sub("", plain)
    if left and not left.isspace():
        raise ProgramError(
            f"line {number}: {left.split()[0]!r} cannot be read; "
            "a word is a capital letter and a number, a comment stands in one pair of parentheses"
        )
    return _WORD.findall(plain)


def _refuse_strangers(
    number: int, line: str, values: dict[str, str], codes: list[tuple[str, float]]
) -> None:
    for letter in values:
        if letter not in "XYFS":
            raise ProgramError(
                f"line {number}: the word {letter}{values[letter]} is not known here; "
                "X, Y, F and S are"
            )
    if len(values) + len(codes) != len(_words(number, line)):
        raise ProgramError(f"line {number}: a word is given twice; give it once")
    if sum(letter == "G" and code in (0.0, 1.0) for letter, code in codes) > 1:
        raise ProgramError(f"line {number}: two moves on one line; give each its own")


class _Control:
    """What a control remembers between the lines."""

    __slots__ = (
        "absolute",
        "all_switches",
        "beam",
        "beam_on",
        "blocks",
        "due",
        "end_code",
        "ended_at",
        "f",
        "f_text",
        "lacks",
        "metric",
        "mode",
        "power_word",
        "ready",
        "rows",
        "s",
        "s_text",
        "switches",
        "top_speed",
        "unit_mm",
        "units_word",
        "x",
        "y",
    )

    def __init__(self, machine: Machine) -> None:
        self.beam_on = beam_code(machine.beam_on)
        self.power_word = machine.power_word
        self.top_speed = machine.top_speed_mm_s
        self.unit_mm, self.units_word = mm_per_unit(machine), machine.units_word
        # Words that must have stood before the first move, in the order in which they are told.
        self.due = [word for word in (machine.feed_word, machine.work_offset) if word]
        if machine.air_on:
            self.due.append(f"M{m_code(machine.air_on)}")
        off = [machine.air_off, machine.beam_off]
        self.switches = {float(m_code(word)) for word in off if word} - {5.0}
        self.all_switches, self.lacks = frozenset(self.switches), ""
        self.end_code = float(m_code(machine.end_word)) if machine.end_word else -1.0
        self.metric = self.absolute = self.beam = self.ready = False
        self.ended_at = 0
        self.mode = ""
        self.x = self.y = self.f = self.s = 0.0
        self.f_text = self.s_text = ""
        self.rows: list[tuple[float, float, bool, float, float]] = []
        self.blocks: list[_Columns] = []

    def set_values(self, number: int, f: str | None, s: str | None) -> None:
        """Take over F [mm/min] and S; both stay until they are given again."""
        if f is not None and f != self.f_text:
            self.f, self.f_text = float(f), f
            if self.f <= 0:
                raise ProgramError(
                    f"line {number}: F{f} is no speed; F is a length a minute above 0"
                )
        if s is not None and s != self.s_text:
            self.s, self.s_text = float(s), s
            if not 0 <= self.s <= self.power_word:
                raise ProgramError(
                    f"line {number}: S{s} is outside this machine's powers; "
                    f"S runs from 0 to {self.power_word:g}"
                )

    def move_along(self, lines: Sequence[str]) -> bool:
        """Go along lines that are all plain moves and lawful; False where one of them is not."""
        found = [match.groups() for match in map(_MOVE, lines) if match is not None]
        if len(found) < len(lines) or not found or not self.ready:
            return False
        g, x, y, f, s = zip(*found, strict=True)
        rapid, lasting = np.array(g) == "0", [_lasting(f, self.f), _lasting(s, self.s)]
        feed, power = lasting
        if (
            (feed[~rapid] <= 0).any()
            or min(map(float, filter(None, f)), default=1.0) <= 0
            or (power[rapid] != 0).any()
            or not ((power >= 0) & (power <= self.power_word)).all()
        ):
            return False
        self._end_block()
        speed = np.where(rapid, self.top_speed, feed / 60.0 * self.unit_mm)
        columns = np.array(x, dtype=float), np.array(y, dtype=float)
        self.blocks.append((*columns, rapid.astype(float), speed, power / self.power_word))
        self.mode, self.x, self.y = g[-1], float(x[-1]), float(y[-1])
        self.f, self.s, self.f_text, self.s_text = float(feed[-1]), float(power[-1]), "", ""
        return True

    def _end_block(self) -> None:
        if self.rows:
            x, y, rapid, speed, power = np.array(self.rows, dtype=float).T
            self.blocks.append((x, y, rapid, speed, power))
            self.rows = []

    def move(self, number: int, mode: str, x: float, y: float) -> None:
        """Go in a straight line to (x, y)."""
        if not self.ready:
            self._refuse_unready(number, mode)
        self.mode = mode
        if mode == "0":
            if self.s:
                raise ProgramError(
                    f"line {number}: travels (G0) with the beam on at S{self.s:g}; write S0"
                )
            self.rows.append((x, y, True, self.top_speed, 0.0))
        else:
            if not self.f:
                raise ProgramError(f"line {number}: cuts (G1) before any F; give F in mm/min")
            speed = self.f / 60.0 * self.unit_mm
            self.rows.append((x, y, False, speed, self.s / self.power_word))
        self.x, self.y = x, y

    def _refuse_unready(self, number: int, mode: str) -> None:
        self.refuse_after_end(number)
        if not (self.metric and self.absolute):
            self._refuse_start(number)
        if not self.beam:
            raise ProgramError(
                f"line {number}: moves before the beam is enabled; "
                f"write M{self.beam_on} S0 before the first move"
            )
        if self.due:
            raise ProgramError(
                f"line {number}: moves before {self.due[0]}, which this machine needs first"
            )
        if not mode:
            raise ProgramError(f"line {number}: gives a place without a move; write G0 or G1")
        self.ready = True

    def stand(self, number: int) -> None:
        """A line without a move must not leave the beam burning on one spot."""
        if self.s and self.beam:
            raise ProgramError(
                f"line {number}: sets S{self.s:g} while standing, which burns one spot; "
                "give S on the line that moves"
            )

    def switch(self, number: int, letter: str, code: float, *, alone: bool, moves: bool) -> None:
        """Obey one G or M word."""
        word = f"{letter}{code:g}"
        if word in (self.units_word, "G90"):
            self.metric |= word != "G90"
            self.absolute |= word == "G90"
            return
        if not (self.metric and self.absolute) and word not in ("G20", "G21", "G70", "G71", "G91"):
            self._refuse_start(number)
        if (letter, code) in (("G", 0.0), ("G", 1.0)):
            self.mode = f"{code:.0f}"
        elif (letter, code) == ("M", self.beam_on) and not moves:
            self.beam = True
        elif word in self.due and alone:
            self.due.remove(word)
        elif letter == "M" and code in self.switches and alone:
            # Air or the beam is off for good: nothing may follow but the other and M5.
            self.switches.remove(code)
            self.beam, self.ready, self.s, self.s_text = False, False, 0.0, ""
        elif (letter, code) == ("M", 5.0) and alone:
            if self.switches:
                self.lacks = (
                    f"line {number}: M5 before M{min(self.switches):.0f}, which this machine needs"
                )
            self.beam, self.ready, self.s, self.s_text = False, False, 0.0, ""
            self.ended_at = number
        else:
            self._refuse_code(number, f"{letter}{code:g}")

    def _refuse_code(self, number: int, word: str) -> NoReturn:
        why = {
            "G2": "is an arc; curves are written as short G1 moves",
            "G3": "is an arc; curves are written as short G1 moves",
            "G20": f"means inches; programs of this machine are in {self.units_word}",
            "G70": f"means inches; programs of this machine are in {self.units_word}",
            "G21": f"means mm; programs of this machine are in {self.units_word}",
            "G71": f"means mm; programs of this machine are in {self.units_word}",
            "G91": "means steps from place to place; programs are absolute, G90",
            "M5": "must stand alone, as the last line",
            f"M{self.beam_on}": "must stand before the moves, not on a line that moves",
        }.get(word, f"is not known here; G0, G1, G21, G90, M{self.beam_on} and M5 are")
        raise ProgramError(f"line {number}: {word} {why}")

    def _refuse_start(self, number: int) -> NoReturn:
        units = self.units_word
        missing = " ".join(
            word for word, seen in ((units, self.metric), ("G90", self.absolute)) if not seen
        )
        what = "mm" if self.unit_mm == 1 else "inches"
        raise ProgramError(
            f"line {number}: {missing} is missing; a program starts with {units} G90 "
            f"({what}, absolute)"
        )

    def is_end_word(self, line: str) -> bool:
        """Take the word that this machine's programs have after M5; once, and nothing else."""
        if not self.ended_at or self.end_code < 0 or m_code(line.strip()) != self.end_code:
            return False
        self.end_code = -1.0
        return True

    def stop(self, number: int) -> None:
        """Stop between passes: only at home, the beam ended; then it must be enabled anew."""
        if self.x or self.y or not (self.rows or self.blocks):
            raise ProgramError(
                f"line {number}: M0 away from X0 Y0; a program stops only when the head is home"
            )
        self.ended_at, self.lacks, self.switches = 0, "", set(self.all_switches)
        # A control may forget F at a stop: what follows gives it again.
        self.f, self.f_text = 0.0, ""

    def refuse_after_end(self, number: int) -> None:
        """Raise if M5 has already ended the program."""
        if self.ended_at:
            self._refuse_lack()
            raise ProgramError(
                f"line {number}: text after M5 (line {self.ended_at}); "
                "M5 ends the program and must be its last line"
            )

    def _refuse_lack(self) -> None:
        if self.lacks:
            raise ProgramError(self.lacks)

    def finish(self, last_line: int) -> Moves:
        """Return the moves of a program that has ended as it must."""
        if not self.ended_at:
            raise ProgramError(
                f"line {max(last_line, 1)}: the program ends without M5; "
                "its last line must be M5, so that the beam is off"
            )
        self._refuse_lack()
        if self.end_code >= 0:
            raise ProgramError(
                f"line {max(last_line, 1)}: the program ends without M{self.end_code:.0f}, which "
                "this machine waits for"
            )
        self._end_block()
        columns = zip(*self.blocks, strict=True) if self.blocks else ((np.zeros(0),),) * 5
        x, y, rapid, speed, power = (np.concatenate(column) for column in columns)
        return Moves(
            x_mm=x * self.unit_mm,
            y_mm=y * self.unit_mm,
            rapid=rapid.astype(bool),
            speed_mm_s=speed,
            power=power,
        )


def _lasting(texts: Sequence[str | None], before: float) -> FloatArray:
    """Return the value that holds at each line: its own, else the last that was given."""
    given = [k for k, text in enumerate(texts) if text is not None]
    values = np.array([before, *(texts[k] for k in given)], dtype=float)
    which = np.zeros(len(texts), dtype=int)
    which[given] = np.arange(1, len(given) + 1)
    return np.asarray(values[np.maximum.accumulate(which)])
