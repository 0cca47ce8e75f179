"""The `d` attribute: read by its grammar, arcs written out as fine cubics, runs made of the rest.

Grammar and arc formulas: SVG 2, sections 9.3 and appendix B.2.4.
"""

from __future__ import annotations

import re
from cmath import exp as cexp
from cmath import phase
from collections.abc import Iterable
from functools import lru_cache
from math import ceil, isfinite, pi, radians, sqrt

import numpy as np

from stopout.artwork.regions.curves import GAP, ComplexArray, RunPen, Subpath, arc_handles

_TOKEN = re.compile(
    r"[\s,]*(?:(?P<command>[A-Za-z])|(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?))"
)
_COMMAND = re.compile(r"([MmLlHhVvCcSsQqTtAaZz])")
NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_FLAG = re.compile(r"[\s,]*([01])")
_TAKES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
# Pairs that follow a move are lines.
_AFTER = {"M": "L", "m": "l"}
_ARC_STEP = pi / 8.0
# Path data of some drawings, read anew at each save of one of them.
_MOST_KEPT = 4000


class PathDataError(ValueError):
    """Path data that breaks the grammar; the message is a clause, without the element's name.

    `before` is the text up to the command that breaks it, which is all that is drawn (SVG 2,
    section 9.5.4).
    """

    before = ""


@lru_cache(maxsize=_MOST_KEPT)
def write_out_arcs(data: str, *, is_single: bool = False) -> str:
    """Check path data and replace every elliptical arc by cubics of at most a sixteenth of a turn.

    Parameters
    ----------
    data : str
        A `d` attribute.
    is_single : bool
        Write one cubic for each arc instead, with its ends and its directions there.

    Returns
    -------
    str
        The same text where it holds no arc.

    Raises
    ------
    PathDataError
        If the data break the grammar or a number is not finite.
    """
    commands = segments(data)
    if all(command not in "Aa" for command, _ in commands):
        return data
    here = start = 0j
    pieces: list[str] = []
    for command, numbers in commands:
        end = _end(command, numbers, here, start)
        if command in "Aa":
            pieces.append(_arc(here, end, numbers, is_single=is_single))
        else:
            pieces.append(command + " ".join(map(repr, numbers)))
        if command in "Mm":
            start = end
        here = end
    return "".join(pieces)


def segments(data: str) -> list[tuple[str, tuple[float, ...]]]:
    """Read path data into commands with their numbers, each checked against the grammar."""
    quick = _by_chunks(data)
    return _by_tokens(data) if quick is None else quick


def _by_chunks(data: str) -> list[tuple[str, tuple[float, ...]]] | None:
    """Read all numbers of a command at once; None for what has arcs or breaks the grammar."""
    before, *pieces = _COMMAND.split(data)
    if before.replace(",", "").strip() or (pieces and pieces[0] not in "Mm"):
        return None
    found: list[tuple[str, tuple[float, ...]]] = []
    for command, chunk in zip(pieces[::2], pieces[1::2], strict=True):
        takes = _TAKES[command.upper()]
        numbers = tuple(map(float, NUMBER.findall(chunk)))
        is_whole = bool(numbers) and len(numbers) % takes == 0 if takes else not numbers
        left = NUMBER.sub("", chunk).replace(",", "").strip()
        if left or not is_whole or command in "Aa" or not all(map(isfinite, numbers)):
            return None
        found.append((command, numbers[:takes]))
        after = _AFTER.get(command, command)
        found += [(after, numbers[k : k + takes]) for k in range(takes, len(numbers), takes or 1)]
    return found


def _by_tokens(data: str) -> list[tuple[str, tuple[float, ...]]]:
    found: list[tuple[str, tuple[float, ...]]] = []
    at, command = 0, ""
    text = data.rstrip(" \t\r\n,")
    while at < len(text):
        try:
            command, numbers, end = _next(text, at, command)
        except PathDataError as fault:
            fault.before = text[:at]
            raise
        found.append((command, numbers))
        at, command = end, _AFTER.get(command, command)
    return found


def _next(text: str, at: int, command: str) -> tuple[str, tuple[float, ...], int]:
    """Read one command from a place on; return it with its numbers and where they end."""
    match = _TOKEN.match(text, at)
    if match is None:
        raise PathDataError(f"{_excerpt(text, at)} is no number and no path command")
    if match["command"]:
        is_first, command, start = not command, match["command"], match.end()
        if command.upper() not in _TAKES:
            raise PathDataError(f"{_excerpt(text, at)} is no path command")
        if is_first and command not in "Mm":
            raise PathDataError("it does not begin with a move (M)")
    elif not command or command in "Zz":
        raise PathDataError(f"a number without a command at {_excerpt(text, at)}")
    else:
        start = at
    return command, *_arguments(text, start, command)


def outline_of(segments: Iterable[tuple[str, tuple[float, ...]]]) -> list[Subpath]:
    """Return the runs of lines and cubics of path data without arcs (SVG 2, section 9.3)."""
    pen = RunPen()
    before: tuple[str, complex] = ("", 0j)
    for command, numbers in segments:
        here = pen.nodes[-1] if pen.nodes else 0j
        base = here if command.islower() else 0j
        points = [complex(*pair) + base for pair in zip(numbers[::2], numbers[1::2], strict=False)]
        kind, control = command.upper(), 0j
        if kind == "Z":
            pen.close()
        elif kind == "M":
            pen.move(points[0])
        else:
            first, second, end, control = _curve(kind, numbers, points, here, base, before)
            pen.curve(first, second, end)
        before = (kind, control)
    pen.end()
    return pen.runs


def _curve(
    kind: str,
    numbers: tuple[float, ...],
    points: list[complex],
    here: complex,
    base: complex,
    before: tuple[str, complex],
) -> tuple[complex, complex, complex, complex]:
    """Handles, end and the control point that a smooth successor mirrors."""
    last, control = before
    if kind == "H":
        return GAP, GAP, complex(numbers[0] + base.real, here.imag), 0j
    if kind == "V":
        return GAP, GAP, complex(here.real, numbers[0] + base.imag), 0j
    if kind == "L":
        return GAP, GAP, points[0], 0j
    if kind == "C":
        return points[0], points[1], points[2], points[1]
    if kind == "S":
        first = 2 * here - control if last in "CS" and last else here
        return first, points[0], points[1], points[0]
    middle = points[0] if kind == "Q" else (2 * here - control if last and last in "QT" else here)
    end = points[-1]
    return here + (middle - here) * 2 / 3, end + (middle - end) * 2 / 3, end, middle


def _arguments(text: str, at: int, command: str) -> tuple[tuple[float, ...], int]:
    numbers = []
    for index in range(_TAKES[command.upper()]):
        if command in "Aa" and index in (3, 4):
            flag = _FLAG.match(text, at)
            if flag is None:
                raise PathDataError(f"an arc flag that is neither 0 nor 1 at {_excerpt(text, at)}")
            numbers.append(float(flag[1]))
            at = flag.end()
            continue
        match = _TOKEN.match(text, at)
        if match is None or match["number"] is None:
            raise PathDataError(
                f"{command} takes {_TAKES[command.upper()]} numbers, "
                f"but {_excerpt(text, at)} is none"
            )
        value = float(match["number"])
        if not isfinite(value):
            raise PathDataError(f"the number {match['number']} is too large")
        numbers.append(value)
        at = match.end()
    return tuple(numbers), at


def _excerpt(text: str, at: int) -> str:
    found = text[at : at + 12].strip(" \t\r\n,")
    return f"'{found}'" if found else "its end"


def _end(command: str, numbers: tuple[float, ...], here: complex, start: complex) -> complex:
    if command in "Zz":
        return start
    if command in "Hh":
        return complex(numbers[0] + (here.real if command == "h" else 0.0), here.imag)
    if command in "Vv":
        return complex(here.real, numbers[0] + (here.imag if command == "v" else 0.0))
    end = complex(numbers[-2], numbers[-1])
    return here + end if command.islower() else end


def _single(
    centre: complex, across: complex, down: complex, first: float, last: float
) -> tuple[ComplexArray, ComplexArray]:
    """One cubic that begins and ends as an arc does, whatever it does between."""
    at = np.array([first, last])
    nodes = centre + across * np.cos(at) + down * np.sin(at)
    ways = (down * np.cos(at) - across * np.sin(at)) * np.sign(last - first)
    return nodes, np.array([[nodes[0] + ways[0] / 3, nodes[1] - ways[1] / 3]])


def _arc(here: complex, end: complex, numbers: tuple[float, ...], *, is_single: bool) -> str:
    """Write one arc as absolute cubics, by the centre form of SVG 2, appendix B.2.4."""
    rx, ry = abs(numbers[0]), abs(numbers[1])
    if here == end:
        return f"L{end.real!r} {end.imag!r}"
    if rx == 0.0 or ry == 0.0:
        return f"L{end.real!r} {end.imag!r}"
    turn = cexp(1j * radians(numbers[2]))
    large, sweep = numbers[3] != 0.0, numbers[4] != 0.0
    half = (here - end) / 2 / turn
    x, y = half.real / rx, half.imag / ry
    excess = x * x + y * y
    if excess > 1.0:
        rx, ry, x, y = rx * sqrt(excess), ry * sqrt(excess), x / sqrt(excess), y / sqrt(excess)
        excess = 1.0
    # On the unit circle: the centre lies at right angles to the chord.
    offset = sqrt(max(0.0, 1.0 / excess - 1.0)) * (-1.0 if large == sweep else 1.0)
    unit = complex(y, -x) * offset
    centre = turn * complex(unit.real * rx, unit.imag * ry) + (here + end) / 2
    first = phase(complex(x, y) - unit)
    span = phase((complex(-x, -y) - unit) / (complex(x, y) - unit))
    if sweep and span <= 0.0:
        span += 2 * pi
    if not sweep and span >= 0.0:
        span -= 2 * pi
    if is_single:
        nodes, handles = _single(centre, rx * turn, ry * 1j * turn, first, first + span)
    else:
        steps = max(1, ceil(abs(span) / _ARC_STEP - 1e-9))
        nodes, handles = arc_handles(
            centre, rx * turn, ry * 1j * turn, np.linspace(first, first + span, steps + 1)
        )
    nodes[-1] = end
    return "".join(
        f"C{a.real!r} {a.imag!r} {b.real!r} {b.imag!r} {c.real!r} {c.imag!r}"
        for (a, b), c in zip(handles.tolist(), nodes[1:].tolist(), strict=True)
    )
