"""Moves -> program text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from stopout.errors import ProgramError
from stopout.program.words import (
    beam_code,
    comment_lines,
    coordinate_decimals,
    first_words,
    last_words,
    line_width,
    m_code,
    mm_per_unit,
    power_word_decimals,
    trimmed,
)
from stopout.values import FloatArray, Machine, Moves

# F per minute to 3 decimals: 0.017 um/s, and 0.4 um/s of an inch.
_FEED_DECIMALS = 3
# Lines that are written at once.
_BLOCK = 20_000


def write_program(
    moves: Moves, *, machine: Machine, title: Sequence[str], stops: Sequence[tuple[int, str]] = ()
) -> str:
    """Write moves as a word-address program.

    Parameters
    ----------
    moves : Moves
        The motion, from rest at (0, 0).
    machine : Machine
        Supplies the words, `power_word` and `top_speed_mm_s`.
    title : sequence of str
        What the first lines say, as comments; any text is made harmless.
    stops : sequence of (int, str)
        After how many moves the program ends the beam and waits for a start (`M0`), and what a
        comment then asks the person to do. The head must be home, at (0, 0), by a travel.

    Returns
    -------
    str
        The program. Moves that rounding leaves without length are dropped; a return to (0, 0)
        with the beam off and the last words, `M5` among them, are added at the end. Its lines end
        as the machine asks.

    Raises
    ------
    ProgramError
        If a stop is not at home, or a move is not finite, has the beam on during a travel, a power
        outside 0..1, or a speed of zero or less.

    Notes
    -----
    `S` has as many decimals as make one step at most 0.2 % of the strongest power, and neither
    turns a weak beam off by rounding nor exceeds `power_word`; likewise `F` and the top speed.
    """
    beam_code(machine.beam_on)
    _refuse_unwritable(moves)
    for count, _ in stops:
        if not (0 < count <= len(moves)) or not moves.rapid[count - 1] or _is_away(moves, count):
            raise ProgramError("a program stops only after a travel home to (0, 0)")
    kept = _Rounded(moves, machine, [count for count, _ in stops])
    head = [*comment_lines(title, width=line_width(machine)), *first_words(machine)]
    ending = "\r\n" if machine.line_ending == "crlf" else "\n"
    done, texts = 0, head
    for at, (_, asked) in zip(kept.stops, stops, strict=True):
        texts += [*kept.text(done, at, ending), *_stop(asked, machine)]
        done = at
    texts += kept.text(done, len(kept.x), ending)
    return ending.join([*texts, *kept.tail(), *last_words(machine), ""])


def as_written(moves: Moves, machine: Machine) -> Moves:
    """Return moves as they are read back from a program of theirs, which is not written.

    Parameters
    ----------
    moves : Moves
        As for `write_program`, which adds a way home.
    machine : Machine
        Supplies decimals, units, `power_word` and `top_speed_mm_s`.
    """
    _refuse_unwritable(moves)
    kept = _Rounded(moves, machine)
    feed = kept.f / 10.0**_FEED_DECIMALS
    return Moves(
        x_mm=kept.x / 10.0**kept.decimals * kept.unit_mm,
        y_mm=kept.y / 10.0**kept.decimals * kept.unit_mm,
        rapid=kept.rapid,
        speed_mm_s=np.where(kept.rapid, machine.top_speed_mm_s, feed / 60.0 * kept.unit_mm),
        power=kept.s / 10.0**kept.s_decimals / machine.power_word,
    )


def _is_away(moves: Moves, count: int) -> bool:
    return bool(moves.x_mm[count - 1] or moves.y_mm[count - 1])


def _stop(asked: str, machine: Machine) -> list[str]:
    """Return the lines that end the beam, wait, and enable it anew with no power."""
    own = machine.beam_off if machine.beam_off and m_code(machine.beam_off) != 5 else ""
    said = comment_lines([asked], width=line_width(machine))
    return [*said, *([own] if own else []), "M5", "M0", f"{machine.beam_on} S0"]


def _refuse_unwritable(moves: Moves) -> None:
    """Raise ProgramError for the first move that cannot be written."""
    values = np.column_stack([moves.x_mm, moves.y_mm, moves.speed_mm_s, moves.power])
    faults = (
        (~np.isfinite(values).all(axis=1), "has a place, speed or power that is not a number"),
        ((moves.power < 0) | (moves.power > 1), "has a power outside 0 to 1 of full power"),
        (moves.rapid & (moves.power != 0), "travels with the beam on; a travel needs power 0"),
        (~moves.rapid & (moves.speed_mm_s <= 0), "has no speed; a cut needs one above zero"),
    )
    for wrong, what in faults:
        if wrong.any():
            raise ProgramError(f"move {int(np.argmax(wrong))} of the program {what}")


class _Rounded:
    """Moves in whole steps of the printed decimals, without those that rounding made empty."""

    def __init__(self, moves: Moves, machine: Machine, stops: Sequence[int] = ()) -> None:
        self.decimals, self.unit_mm = coordinate_decimals(machine), mm_per_unit(machine)
        x = _steps(moves.x_mm / self.unit_mm, self.decimals)
        y = _steps(moves.y_mm / self.unit_mm, self.decimals)
        longer = (np.diff(x, prepend=0) != 0) | (np.diff(y, prepend=0) != 0)
        self.x, self.y = x[longer], y[longer]
        self.stops = [int(longer[:count].sum()) for count in stops]
        self.rapid = moves.rapid[longer]
        power, speed = moves.power[longer], moves.speed_mm_s[longer]
        self.s_decimals = power_word_decimals(machine.power_word * float(power.max(initial=0.0)))
        self.s = _power_steps(power, machine.power_word, self.s_decimals)
        self.f = _feed_steps(speed / self.unit_mm, machine.top_speed_mm_s / self.unit_mm)

    def text(self, first: int, last: int, ending: str) -> Iterator[str]:
        """One line a move; S and F only where they change or must be restated.

        Some thousand lines are joined at once: a panel's program has millions.
        """
        scale = 10.0**self.decimals
        s_due, f_due = self._s_is_due(), self._f_is_due()
        pattern = f"G%d X%.{self.decimals}f Y%.{self.decimals}f%s%s"
        for begin in range(first, last, _BLOCK):
            k = slice(begin, min(begin + _BLOCK, last))
            columns = (
                np.where(self.rapid[k], 0, 1).tolist(),
                (self.x[k] / scale).tolist(),
                (self.y[k] / scale).tolist(),
                self._words(" F", self.f[k], _FEED_DECIMALS, f_due[k]),
                self._words(" S", self.s[k], self.s_decimals, s_due[k]),
            )
            yield ending.join([pattern % line for line in zip(*columns, strict=True)])

    def _s_is_due(self) -> NDArray[np.bool_]:
        after_travel = np.concatenate([[True], self.rapid[:-1]])[: len(self.rapid)]
        due: NDArray[np.bool_] = self.rapid | after_travel | (np.diff(self.s, prepend=-1) != 0)
        return due

    def _f_is_due(self) -> NDArray[np.bool_]:
        cuts = np.flatnonzero(~self.rapid)
        due = np.zeros(len(self.rapid), dtype=bool)
        due[cuts[np.diff(self.f[cuts], prepend=-1) != 0]] = True
        # A control may forget F at a stop.
        after = np.searchsorted(cuts, self.stops)
        due[cuts[after[after < len(cuts)]]] = True
        return due

    @staticmethod
    def _words(
        letter: str, steps: NDArray[np.int64], decimals: int, due: NDArray[np.bool_]
    ) -> list[str]:
        values, which = np.unique(steps, return_inverse=True)
        texts = ["", *(letter + trimmed(int(value), decimals) for value in values)]
        return [texts[i] for i in np.where(due, which + 1, 0).tolist()]

    def tail(self) -> list[str]:
        """The return with the beam off, unless the last move is just that."""
        if len(self.x) and self.x[-1] == 0 and self.y[-1] == 0 and self.rapid[-1]:
            return []
        return [f"G0 X{0:.{self.decimals}f} Y{0:.{self.decimals}f} S0"]


def _steps(values: FloatArray, decimals: int) -> NDArray[np.int64]:
    return np.rint(values * 10.0**decimals).astype(np.int64)


def _power_steps(power: FloatArray, power_word: float, decimals: int) -> NDArray[np.int64]:
    steps = _steps(power * power_word, decimals)
    most = int(np.floor(power_word * 10.0**decimals + 1e-9))
    return np.minimum(np.where(power > 0, np.maximum(steps, 1), 0), most)


def _feed_steps(speed: FloatArray, top_speed: float) -> NDArray[np.int64]:
    """Return F in its last decimal, from speeds in the program's unit of length per second."""
    steps = np.maximum(_steps(speed * 60.0, _FEED_DECIMALS), 1)
    most = int(np.floor(top_speed * 60.0 * 10.0**_FEED_DECIMALS + 1e-6))
    # Only rounding may be taken back: a speed that is really too high stays for the proof.
    within = speed <= top_speed * (1 + 1e-9)
    return np.where(within, np.minimum(steps, most), steps)
