"""The keys of [machine]: the laser machine and the control that drives it.

No figure here belongs to one make of control: what differs between them is asked for, and the
sentence about a missing one says how to find it out, never somebody else's number.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from stopout.jobs.forms import (
    FARTHEST,
    Amount,
    AutoOr,
    AxesMeasured,
    Count,
    Figure,
    MotorStep,
    Row,
    Switch,
    Text,
    WithSpread,
)
from stopout.jobs.table import Table
from stopout.values import Measured

__all__ = ["HOW_TO_FIND", "KeepOutTable", "MachineTable"]

_ABOVE_0_MM = Amount("length", above="0 mm", at_most=FARTHEST)
_ANY_LENGTH = Amount("length", at_least=f"-{FARTHEST}", at_most=FARTHEST)
# No optics of such a machine focus below a micrometre; a smaller value is a slip of the unit.
_BEAM = Amount("length", at_least="0.001 mm", at_most="10 mm", usual=("0.01 mm", "1 mm"))
_LAG = Amount("delay", at_least="0 ms", at_most="100 ms")
_PLAY = Amount("length", at_least="0 mm", at_most="1 mm")
_Speed = Annotated[
    float,
    Amount("speed", at_least="0.1 mm/s", at_most="20000 mm/s", usual=("5 mm/s", "2000 mm/s")),
]

# How each figure is found out. A measurement that a how-to describes is named by its page.
HOW_TO_FIND = {
    "spot": "measure it: burn lines at several doses (stopout coupon clearing), or take the beam's "
    "full widths along x and y at the work from its data sheet, each in its own sense",
    "spot_means": 'say in which sense the widths are meant: "1/e2", "fwhm" or "d4sigma"; the data '
    "sheet says which",
    "wavelength": "read it on the laser's own label, which must name it",
    "power": "measure it with a power meter, or read the optical output on the laser's label, not "
    "what it draws from the mains",
    "top_speed": "read it in the control's settings, the slower of its two axes",
    "acceleration": "read it in the control's settings, the smaller of its two axes",
    "cornering": "read it in the control's settings (the corner or path tolerance), or time a "
    "program: docs/how-to/set-up-a-control.md",
    "step": "read in the control's settings how many motor steps make a millimetre, and write that "
    "number with /mm",
    "bed": "measure how far the beam travels along x and along y",
    "power_word": "read in the control's settings which number after S means full power",
    "beam_on": "read in the control's manual which M word enables the beam",
}


def _key(meaning: str, default: Any = ..., *, example: Any = None) -> Any:
    shown = default if example is None else example
    return Field(default, description=meaning, examples=[shown])


class KeepOutTable(Table):
    """A part of the bed that no motion may enter."""

    box: Annotated[tuple[float, float, float, float], Row(_ANY_LENGTH, 4)] = _key(
        "Left, bottom, right, top, from the bed's corner",
        example=["0 mm", "0 mm", "20 mm", "15 mm"],
    )


def _m_word(like: str, *, but: str = "") -> Text:
    return Text(pattern=rf"^M{but}[0-9]{{1,3}}$", like=like, longest=40, kind="word-address code")


class MachineTable(Table):
    """The laser machine and its control."""

    spot: Annotated[tuple[float, float], Row(_BEAM, or_one=True)] | None = _key(
        "The beam's full widths along x and y in the sense of spot_means; one value: round; "
        "default: from the shop book, else the range of its emitter, and the plan is unmeasured",
        None,
        example=["0.17 mm", "0.12 mm"],
    )
    spot_means: Literal["1/e2", "fwhm", "d4sigma"] | None = _key(
        "How the spot's width is meant; wanted with spot", None, example="1/e2"
    )
    emitter: Literal["blue-diode", "violet-diode", "near-infrared", "carbon-dioxide"] | None = _key(
        "The kind of laser, where its wavelength is not known", None, example="blue-diode"
    )
    wavelength: (
        Annotated[
            float,
            Amount("wavelength", at_least="100 nm", at_most="20 um", usual=("190 nm", "11 um")),
        ]
        | None
    ) = _key("The laser's wavelength; default: that of its emitter", None, example="450 nm")
    power: Annotated[
        float | None,
        AutoOr(
            Amount("power", at_least="1 mW", at_most="2000 W", usual=("0.1 W", "200 W")),
            word="unknown",
        ),
    ] = _key('The optical power at full power, or "unknown"', example="5.5 W")
    top_speed: _Speed = _key("The speed that no move exceeds", example="100 mm/s")
    acceleration: (
        Annotated[
            float,
            Amount(
                "acceleration",
                at_least="1 mm/s^2",
                at_most="1000000 mm/s^2",
                usual=("20 mm/s^2", "50000 mm/s^2"),
            ),
        ]
        | None
    ) = _key(
        "The acceleration along the path; default: the range of such machines, and the plan is "
        "unmeasured",
        None,
        example="800 mm/s^2",
    )
    cornering: (
        Annotated[
            float, Amount("length", above="0 mm", at_most="10 mm", usual=("0.0005 mm", "1 mm"))
        ]
        | None
    ) = _key(
        "How far the path may leave a corner that is rounded at speed; default: likewise",
        None,
        example="0.02 mm",
    )
    step: (
        Annotated[
            float,
            MotorStep(
                Amount(
                    "length", at_least="0.0001 mm", at_most="1 mm", usual=("0.0005 mm", "0.2 mm")
                )
            ),
        ]
        | None
    ) = _key(
        'One motor step, or how many make a length, such as "80 /mm"; no move of a curve is '
        "shorter; default: likewise",
        None,
        example="0.0125 mm",
    )
    bed: Annotated[
        tuple[float, float],
        Row(Amount("length", at_least="1 mm", at_most=FARTHEST, usual=("20 mm", "3000 mm"))),
    ] = _key("The bed's width and depth", example=["400 mm", "400 mm"])
    blank_at: Annotated[tuple[float, float], Row(_ANY_LENGTH)] | None = _key(
        "The blank's corner from the bed's corner; default: the blank is centred on the bed, and "
        "the sheet says so",
        None,
        example=["30 mm", "30 mm"],
    )
    power_word: Annotated[float, Figure(at_most=1_000_000)] = _key(
        "The S word that means full power; a fraction of power is that fraction of it", example=255
    )
    beam_on: Annotated[
        str,
        # M0, M1, M2 and M30 stop the program and M5 ends the beam (ISO 6983-1).
        _m_word(
            "the code that enables the beam, M and a number but not M0, M1, M2, M5 or M30, "
            'such as "M3"',
            but=r"(?!0*([0125]|30)$)",
        ),
    ] = _key("The code that enables the beam; M5 always ends it", example="M3")
    power_follows_speed: Annotated[bool | str | None, Switch("control")] = _key(
        "How power goes with speed. true: S words follow the planned speed along the path; "
        '"control": the control scales S by its own speed; false: neither, so outlines run at one '
        "slow speed; default: planned as for false, which is right on all, and told",
        None,
        example=True,
    )
    beam_at_rest: bool = _key(
        "true where a test on scrap has shown that the control gives S as it stands while the head "
        "creeps; only then are dots cleared by a dwell, and never on a control that scales S",
        False,
        example=True,
    )
    beam_lag: Annotated[tuple[Measured, Measured], AxesMeasured(WithSpread(_LAG))] | None = _key(
        "How late the beam goes on and off along x and along y, as the timing combs of a coupon "
        "tell; default: from the shop book, else none",
        None,
        example=["0.40 ms", "0.40 ms"],
    )
    play: Annotated[tuple[Measured, Measured], AxesMeasured(WithSpread(_PLAY))] | None = _key(
        "The play of the drive along x and along y, as the timing combs tell; default: from the "
        "shop book, else none",
        None,
        example=["0.02 mm", "0.02 mm"],
    )
    units_word: Literal["G21", "G20", "G71", "G70"] = _key(
        "The word for the unit of length: G21 or G71 millimetres, G20 or G70 inches", "G21"
    )
    feed_word: Literal["G94"] | None = _key(
        "The word that makes F a length per minute, for a control that must be told",
        None,
        example="G94",
    )
    work_offset: Literal["G54", "G55", "G56", "G57", "G58", "G59"] | None = _key(
        "The word of the work offset whose zero is the blank's corner", None, example="G54"
    )
    air_on: Annotated[str, _m_word('an M word such as "M8"', but=r"(?!0*([01235]|30)$)")] | None = (
        _key("The code that turns the air assist on before the first move", None, example="M8")
    )
    air_off: (
        Annotated[str, _m_word('an M word such as "M9"', but=r"(?!0*([01235]|30)$)")] | None
    ) = _key("The code that turns it off at the end", None, example="M9")
    beam_off: (
        Annotated[str, _m_word('an M word such as "M5" or "M105"', but=r"(?!0*([0123]|30)$)")]
        | None
    ) = _key(
        "A code that ends the beam on this control, given before M5, which is written whatever "
        "stands here",
        None,
        example="M5",
    )
    end_word: Literal["M2", "M30"] | None = _key(
        "A word after M5 that ends the program, for a control that waits for it",
        None,
        example="M30",
    )
    line_ending: Literal["lf", "crlf"] = _key(
        "How a program's lines end: line feed, or carriage return and line feed", "lf"
    )
    longest_line: Annotated[int, Count(1000, at_least=50)] | None = _key(
        "The most characters that the control reads in a line", None, example=80
    )
    decimals: Annotated[int, Count(6, at_least=2)] | None = _key(
        "Decimals of X and Y; default: 4 in millimetres, 5 in inches", None, example=3
    )
    most_lines_per_second: Annotated[float, Figure(at_most=100_000)] | None = _key(
        "The most lines that the control carries out in a second; where a program would ask for "
        "more it runs slower there",
        None,
        example=200,
    )
    pointer: Annotated[float, Amount("fraction", at_least="0 %", at_most="100 %")] = _key(
        "The power for tracing the bounds; above a tenth of the threshold dose the plan stops",
        "0 %",
    )
    keep_out: list[KeepOutTable] = _key("Clamps and the like, any number", [])
