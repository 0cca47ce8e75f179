"""The keys of [machine]: the laser machine and the control that drives it.

No figure here belongs to one make of control: what differs between them is asked for, and the
sentence about a missing one says how to find it out, never somebody else's number.
"""

from __future__ import annotations

from typing import Any

from stopout.jobs.forms import (
    ANY_MM,
    FARTHEST,
    Amount,
    AutoOr,
    AxesMeasured,
    Count,
    Figure,
    MotorStep,
    OneOf,
    Row,
    Switch,
    TextForm,
    WithSpread,
    YesNo,
)
from stopout.jobs.keys.definition import REQUIRED, Key, KeyTable
from stopout.values import Machine, Measured

# No optics of such a machine focus below a micrometre; a smaller value is a slip of the unit.
_BEAM = Amount("length", at_least="0.001 mm", at_most="10 mm", usual=("0.01 mm", "1 mm"))
# What may be left out, and the field that then holds a value of its range.
_FIGURES = {
    "spot": "spot_mm",
    "power": "power_w",
    "acceleration": "acceleration_mm_s2",
    "cornering": "cornering_mm",
    "step": "step_mm",
}
_LAG = Amount("delay", at_least="0 ms", at_most="100 ms")
_PLAY = Amount("length", at_least="0 mm", at_most="1 mm")
_SPEED = Amount("speed", at_least="0.1 mm/s", at_most="20000 mm/s", usual=("5 mm/s", "2000 mm/s"))


# M0 to M2 and M30 stop the program, M3 enables the beam and M5 ends it (ISO 6983-1).
_NO_STOP = r"(?!0*([01235]|30)$)"


def _m_word(like: str, *, but: str = "") -> TextForm:
    return TextForm(
        pattern=rf"^M{but}[0-9]{{1,3}}$", like=like, longest=40, kind="word-address code"
    )


def _values(axes: tuple[Measured, Measured]) -> tuple[float, float]:
    return axes[0].value, axes[1].value


def _lag_s(axes_ms: tuple[Measured, Measured]) -> tuple[float, float]:
    return axes_ms[0].value / 1000, axes_ms[1].value / 1000


def _machine(*, emitter: str | None = None, **fields: Any) -> Machine:
    """The record, a range for each figure that was left out: a plan that knows it is unmeasured."""
    # The tables are only read for a job, not for a help text.
    from stopout.tables import emitter_of, emitter_spans

    known = emitter_spans(emitter or emitter_of(fields["wavelength_nm"]))
    fields.setdefault("wavelength_nm", known["wavelength"].value)
    spans = []
    for name, field in _FIGURES.items():
        if fields.get(field) is None:
            spans.append(known[name])
            fields[field] = (known[name].value,) * 2 if name == "spot" else known[name].value
    fields.setdefault("spot_means", "1/e2")
    return Machine(**fields, spans=tuple(spans))


# A table is read as one: a key in two to five lines, which the formatter would make ten.
# fmt: off
KEEP_OUT = KeyTable(
    "keep_out",
    "A part of the bed that no motion may enter.",
    Key("box", REQUIRED, Row(ANY_MM, 4),
        "Left, bottom, right, top, from the bed's corner",
        example=["0 mm", "0 mm", "20 mm", "15 mm"]),
    record=lambda box_mm: box_mm, into="keep_outs_mm", is_many=True,
)

MACHINE = KeyTable(
    "machine",
    "The laser machine and its control.",
    Key("name", None, TextForm(longest=60),
        "A machine that the shop keeps by this name; what stands beside it wins",
        example="bench-laser"),
    Key("spot", None, Row(_BEAM, or_one=True),
        "The beam's full widths along x and y in the sense of spot_means; one value: round; "
        "default: from the shop book, else the range of its emitter, and the plan is unmeasured",
        example=["0.17 mm", "0.12 mm"],
        find="measure it: burn lines at several doses (stopout coupon clearing), or take the "
        "beam's full widths along x and y at the work from its data sheet, each in its "
        "own sense"),
    Key("spot_means", None, OneOf(("1/e2", "fwhm", "d4sigma")),
        "How the spot's width is meant; wanted with spot", example="1/e2",
        find='say in which sense the widths are meant: "1/e2", "fwhm" or "d4sigma"; the data '
        "sheet says which"),
    Key("emitter", None,
        OneOf(("blue-diode", "violet-diode", "near-infrared", "carbon-dioxide")),
        "The kind of laser, where its wavelength is not known", example="blue-diode"),
    Key("wavelength", None,
        Amount("wavelength", at_least="100 nm", at_most="20 um", usual=("190 nm", "11 um")),
        "The laser's wavelength; one of it and emitter", example="450 nm",
        find="read it on the laser's own label, which must name it"),
    Key("power", REQUIRED,
        AutoOr(Amount("power", at_least="1 mW", at_most="2000 W", usual=("0.1 W", "200 W")),
               word="unknown"),
        'The optical power at full power, or "unknown"', example="5.5 W",
        find="measure it with a power meter, or read the optical output on the laser's label, "
        'not what it draws from the mains; "unknown" will do'),
    Key("top_speed", REQUIRED, _SPEED,
        "The speed that no move exceeds", example="100 mm/s",
        find="read it in the control's settings, the slower of its two axes"),
    Key("acceleration", None,
        Amount("acceleration", at_least="1 mm/s^2", at_most="1000000 mm/s^2",
               usual=("20 mm/s^2", "50000 mm/s^2")),
        "The acceleration along the path; default: the range of such machines, and the plan is "
        "unmeasured", example="800 mm/s^2",
        find="read it in the control's settings, the smaller of its two axes"),
    Key("cornering", None,
        Amount("length", above="0 mm", at_most="10 mm", usual=("0.0005 mm", "1 mm")),
        "How far the path may leave a corner that is rounded at speed; default: likewise",
        example="0.02 mm",
        find="read it in the control's settings (the corner or path tolerance), or time a "
        "program: docs/how-to/set-up-a-control.md"),
    Key("step", None,
        MotorStep(Amount("length", at_least="0.0001 mm", at_most="1 mm",
                         usual=("0.0005 mm", "0.2 mm"))),
        'One motor step, or how many make a length, such as "80 /mm"; no move of a curve is '
        "shorter; default: likewise", example="0.0125 mm",
        find="read in the control's settings how many motor steps make a millimetre, and "
        "write that number with /mm"),
    Key("bed", REQUIRED,
        Row(Amount("length", at_least="1 mm", at_most=FARTHEST, usual=("20 mm", "3000 mm"))),
        "The bed's width and depth", example=["400 mm", "400 mm"],
        find="measure how far the beam travels along x and along y"),
    Key("blank_at", None, Row(ANY_MM),
        "The blank's corner from the bed's corner; default: the blank is centred on the bed, "
        "and the sheet says so", example=["30 mm", "30 mm"]),
    Key("power_word", REQUIRED, Figure(at_most=1_000_000),
        "The S word that means full power; a fraction of power is that fraction of it", example=255,
        find="read in the control's settings which number after S means full power"),
    Key("beam_on", REQUIRED,
        # M0, M1, M2 and M30 stop the program and M5 ends the beam (ISO 6983-1).
        _m_word("the code that enables the beam, M and a number but not M0, M1, M2, M5 or M30, "
                'such as "M3"', but=r"(?!0*([0125]|30)$)"),
        "The code that enables the beam; M5 always ends it", example="M3",
        find="read in the control's manual which M word enables the beam"),
    Key("power_follows_speed", None, Switch("control"),
        "How power goes with speed. true: S words follow the planned speed along the path; "
        '"control": the control scales S by its own speed; false: neither, so outlines run at '
        "one slow speed; default: planned as for false, which is right on all, and told",
        example=True),
    Key("beam_at_rest", False, YesNo(),
        "true where a test on scrap has shown that the control gives S as it stands while the "
        "head creeps; only then are dots cleared by a dwell, and never on a control that "
        "scales S", example=True),
    Key("beam_lag", None, AxesMeasured(WithSpread(_LAG)),
        "How late the beam goes on and off along x and along y, as the timing combs of a "
        "coupon tell; default: from the shop book, else none", example=["0.40 ms", "0.40 ms"],
        into="beam_lag_s", turn=_lag_s),
    Key("play", None, AxesMeasured(WithSpread(_PLAY)),
        "The play of the drive along x and along y, as the timing combs tell; default: from "
        "the shop book, else none", example=["0.02 mm", "0.02 mm"], turn=_values),
    Key("units_word", "G21", OneOf(("G21", "G20", "G71", "G70")),
        "The word for the unit of length: G21 or G71 millimetres, G20 or G70 inches"),
    Key("feed_word", None, OneOf(("G94",)),
        "The word that makes F a length per minute, for a control that must be told",
        example="G94"),
    Key("work_offset", None, OneOf(("G54", "G55", "G56", "G57", "G58", "G59")),
        "The word of the work offset whose origin is the blank's corner", example="G54"),
    Key("air_on", None, _m_word('an M word such as "M8"', but=_NO_STOP),
        "The code that turns the air assist on before the first move", example="M8"),
    Key("air_off", None, _m_word('an M word such as "M9"', but=_NO_STOP),
        "The code that turns it off at the end", example="M9"),
    Key("beam_off", None,
        _m_word('an M word such as "M5" or "M105"', but=r"(?!0*([0123]|30)$)"),
        "A code that ends the beam on this control, given before M5, which is written whatever "
        "stands here", example="M5"),
    Key("end_word", None, OneOf(("M2", "M30")),
        "A word after M5 that ends the program, for a control that waits for it", example="M30"),
    Key("line_ending", "lf", OneOf(("lf", "crlf")),
        "How a program's lines end: line feed, or carriage return and line feed"),
    Key("longest_line", None, Count(1000, at_least=50),
        "The most characters that the control reads in a line", example=80),
    Key("decimals", None, Count(6, at_least=2),
        "Decimals of X and Y; default: 4 in millimetres, 5 in inches", example=3),
    Key("most_lines_per_second", None, Figure(at_most=100_000),
        "The most lines that the control carries out in a second; where a program would ask "
        "for more it runs slower there", example=200, into="most_lines_per_s"),
    Key("pointer", "0 %", Amount("fraction", at_least="0 %", at_most="100 %"),
        "The power for tracing the bounds; above a tenth of the threshold dose the plan stops",
        into="pointer_fraction"),
    KEEP_OUT,
    record=_machine, short="name",
)
