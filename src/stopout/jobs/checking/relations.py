"""Values that may each be right and cannot be so together, or hardly: a slip of a unit shows here.

Limits without a source are our own rule, wide enough that no shop meets them by choice.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from stopout.jobs.keys.definition import GivenTable, found
from stopout.jobs.lines import Path, dotted
from stopout.units import format_number

Fault = tuple[Path, str]

# 1/e2 width over that of each other sense, for a Gaussian beam (ISO 11146-1, 3.5; ln 2).
_TO_1_E2 = {"1/e2": 1.0, "d4sigma": 1.0, "fwhm": math.sqrt(2 / math.log(2))}
# D = w sqrt(ln(r) / 2) for a line at dose ratio r and the full 1/e2 width w (Liu, Opt. Lett. 7
# (1982) 196, from memory, in its scanned form): what 1.01 times the threshold clears, and 3000.
_LEAST_MARK, _MOST_MARK = math.sqrt(math.log(1.01) / 2), math.sqrt(math.log(3000) / 2)
# The same for what shops work with, 1.15 to 20 times.
_SMALL_MARK, _LARGE_MARK = math.sqrt(math.log(1.15) / 2), math.sqrt(math.log(20) / 2)
_ARTWORK_POSSIBLE, _ARTWORK_USUAL = 20.0, 2.0
_TOLERANCE_SHARE = 1 / 20
_DEEP_SHARE = 0.5


def impossible(tables: GivenTable) -> Iterator[Fault]:
    """Find the pairs of values that cannot be so together.

    Parameters
    ----------
    tables : GivenTable
        The tables as far as they could be read.

    Yields
    ------
    (key path, str)
        What is wrong at which key.
    """
    for at, mark, width in _marks(tables):
        if not _LEAST_MARK * width <= mark <= _MOST_MARK * width:
            yield (
                at,
                f"of {format_number(mark)} mm cannot be cleared by a spot that is "
                f"{format_number(width)} mm wide at 1/e2: it clears "
                f"{format_number(_LEAST_MARK * width, digits=2)} to "
                f"{format_number(_MOST_MARK * width, digits=2)} mm at most; "
                "check the units of mark and spot",
            )
            break
    for at, key, size, side in _artwork(tables):
        if size > _ARTWORK_POSSIBLE * side:
            yield (
                at,
                f"of {format_number(size)} mm is more than {_ARTWORK_POSSIBLE:.0f} times the "
                f"blank's {key} of {format_number(side)} mm; check its unit",
            )
    sides = [found(tables, "blank", key) for key in ("width", "height")]
    known = [side for side in sides if side is not None]
    tolerance = found(tables, "limits", "edge_tolerance")
    if known and tolerance is not None and tolerance > _TOLERANCE_SHARE * min(known):
        yield (
            ("limits", "edge_tolerance"),
            f"must be at most {format_number(_TOLERANCE_SHARE * min(known))} mm, a twentieth of "
            "the blank's smaller side: an edge that errs by more is another drawing",
        )


def strange(tables: GivenTable) -> Iterator[tuple[str, str]]:
    """Find the pairs of values that are hardly meant so: (what is told, what to do)."""
    for at, mark, width in _marks(tables):
        if not _SMALL_MARK * width <= mark <= _LARGE_MARK * width:
            yield (
                f"{dotted(at)} of {format_number(mark)} mm is unlike a spot that is "
                f"{format_number(width)} mm wide at 1/e2: usual is "
                f"{format_number(_SMALL_MARK * width, digits=2)} to "
                f"{format_number(_LARGE_MARK * width, digits=2)} mm",
                "Check the units of mark and spot, and measure both again.",
            )
            break
    for at, key, size, side in _artwork(tables):
        if size > _ARTWORK_USUAL * side:
            yield (
                f"{dotted(at)} of {format_number(size)} mm is {size / side:.0f} times the "
                f"blank's {key} of {format_number(side)} mm",
                'Check its unit; box = "ink" sizes the drawing without its empty margin.',
            )
    depth, thickness = found(tables, "etch", "depth"), found(tables, "blank", "thickness")
    if depth is not None and thickness is not None and _DEEP_SHARE * thickness < depth < thickness:
        yield (
            f"etch.depth of {format_number(depth)} mm takes more than half of a blank that is "
            f"{format_number(thickness)} mm thick",
            "Check the units of both; thin spots etch through first.",
        )


def _marks(tables: GivenTable) -> Iterator[tuple[Path, float, float]]:
    """Each axis of each mark [mm], and the spot's full 1/e2 width along that axis."""
    spot, means = found(tables, "machine", "spot"), found(tables, "machine", "spot_means")
    if spot is None or means not in _TO_1_E2:
        return
    marks: list[tuple[Path, Any]] = [(("clearing", "mark"), found(tables, "clearing", "mark"))]
    for place, coat in enumerate(found(tables, "coat") or []):
        marks.append((("coat", place, "mark"), found(coat, "mark")))
    for at, mark in marks:
        for axis, width in zip(mark or (), spot, strict=False):
            yield at, axis.value, width * _TO_1_E2[means]


def _artwork(tables: GivenTable) -> Iterator[tuple[Path, str, float, float]]:
    for key in ("width", "height"):
        size, side = found(tables, "artwork", key), found(tables, "blank", key)
        if size is not None and side is not None:
            yield ("artwork", key), key, size, side
