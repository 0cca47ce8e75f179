"""`stopout spacing`: how far apart fill lines may lie for a spot, and why."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import typer

from stopout.cli.asked.options import AS_JSON, REQUIRED, Given, Option, command
from stopout.cli.speech.telling import say, say_json
from stopout.cli.speech.wrapping import wrapped
from stopout.errors import StopoutError
from stopout.folders import check_replaceable, write_file
from stopout.units import format_duration, format_number, six_digits

if TYPE_CHECKING:
    from stopout.clearing.beam.focus import FocusStep
    from stopout.clearing.beam.spacing_table import FillCase, SpacingRow, SpacingTable

_WIDEST = 120
_LEAST_STEPS = 1e-4
# What the job file takes as possible.
_LEAST_MM, _MOST_MM = 0.001, 10.0


# A table is read as one: an option in a line or two.
# fmt: off
_OPTIONS = (
    Option("spot", "length", "Full width along x.", REQUIRED, least=_LEAST_MM, most=_MOST_MM),
    Option("spot_means", "choice", "What the spot's width means.", REQUIRED,
           choices=("1/e2", "fwhm", "d4sigma")),
    Option("spot_y", "length", "Full width along y; left out: round.",
           least=_LEAST_MM, most=_MOST_MM),
    Option("profile", "choice", "Profile of the spot.", "gaussian",
           choices=("gaussian", "uniform")),
    Option("mark", "length", "Measured mark along x (of a line along y).",
           least=_LEAST_MM, most=_MOST_MM),
    Option("mark_y", "length", "Measured mark along y; left out: by the spot.",
           least=_LEAST_MM, most=_MOST_MM),
    Option("dose_ratio", "number", "Dose / threshold across the wider axis; left out: 2.",
           above=1.0, most=1000.0),
    Option("step", "length", "One motor step; left out: no rounding.", least=0.0001,
           most=1.0, into="step_mm"),
    Option("line_direction", "choice", "Lines along x or y.", "x", choices=("x", "y")),
    Option("accumulation", "number", "Accumulation exponent S: 1 none, 0 doses add in full.", "1",
           least=0.0, most=1.0, into="exponent"),
    Option("passes", "count", "Passes over the whole fill.", "1", most=100),
    Option("edge_angle", "angle", "Angle between the edge (90deg: across) and the lines.", "90deg",
           least=0.0, most=90.0),
    Option("speed", "speed", "Clearing speed, for the time.", least=0.01, most=10000.0),
    Option("wavelength", "wavelength", "Wavelength, for the focus."),
    Option("m2", "number", "Beam quality M^2, for the focus; 1 is ideal.", "1", least=1.0,
           most=1e4),
    Option("picture", "file", "Draw the dose across the lines (PNG)."),
    AS_JSON,
)
# fmt: on
_SHARED = ("dose_ratio", "step", "accumulation", "passes", "edge_angle", "speed")


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, *_OPTIONS)
    def spacing(given: Given) -> None:
        """Compare spacings of fill lines for a spot, and choose one.

        Example: stopout spacing --spot 0.17mm --spot-y 0.12mm --spot-means 1/e2 --step 0.0125mm
        """
        marks, picture = (given.mark, given.mark_y), given.picture
        shared = {o.field: getattr(given, o.name) for o in _OPTIONS if o.name in _SHARED}
        widths = (given.spot, given.spot if given.spot_y is None else given.spot_y)
        cases = _cases(widths, given.spot_means, given.profile == "uniform", marks, shared)
        if picture is not None:
            check_replaceable(picture, kind="PNG")
        from stopout.clearing.beam.spacing_table import spacing_table

        tables = {along: spacing_table(case) for along, case in cases.items()}
        chosen = tables[given.line_direction]
        cautions = (*chosen.cautions, *_unlike_spot(cases, marks))
        focus = None
        if given.wavelength is not None:
            focus = _focus(tables, given.wavelength, given.m2)
        if picture is not None:
            from stopout.pictures.dose import dose_png

            write_file(picture, dose_png(chosen))
        if given.as_json:
            say_json(_plain(chosen, tables, cautions, focus, picture))
        else:
            say("\n".join(_printed(chosen, focus, is_ideal=given.m2 == 1)))
        for caution in cautions:
            say(f"caution: {caution}", to_stderr=True)


def _cases(
    widths: tuple[float, float],
    means: Literal["1/e2", "fwhm", "d4sigma"],
    is_uniform: bool,
    marks: tuple[float | None, float | None],
    shared: dict[str, Any],
) -> dict[str, FillCase]:
    """Return the case of each line direction: lines along x lie apart in y, and the reverse."""
    from stopout.clearing.beam.spacing_table import FillCase
    from stopout.clearing.beam.spot import GaussianSpot, UniformSpot, radius_mm, side_mm

    step = shared["step_mm"]
    if step is not None and step < _LEAST_STEPS * min(widths):
        share = format_number(min(widths) / step, digits=2)
        raise StopoutError(
            f"--step is {format_number(step)} mm, a {share}th of the spot: give the length "
            "of one motor step, usually 0.001 to 0.05 mm"
        )
    spot: GaussianSpot | UniformSpot
    if is_uniform:
        spot = UniformSpot(side_mm=(side_mm(widths[0], means), side_mm(widths[1], means)))
        # Such a spot clears its own shape.
        x, y = marks
        if x is not None and y is None:
            marks = x, x * widths[1] / widths[0]
        elif y is not None and x is None:
            marks = y * widths[0] / widths[1], y
    else:
        spot = GaussianSpot(radius_mm=(radius_mm(widths[0], means), radius_mm(widths[1], means)))
        marks = _both_marks(marks, spot.radius_mm)
    alongs: tuple[tuple[Literal["x", "y"], int], ...] = (("x", 1), ("y", 0))
    return {
        along: FillCase(spot=spot, line_direction=along, mark_across_mm=marks[axis], **shared)
        for along, axis in alongs
    }


def _both_marks(
    marks: tuple[float | None, float | None], radius_mm: tuple[float, float]
) -> tuple[float | None, float | None]:
    """Return the marks along x and y: where one is given, the spot and one threshold give both."""
    from stopout.clearing.beam.mark import mark_beside

    x, y = marks
    if (x is None) == (y is None) or max(x or 0.0, y or 0.0) > 6 * min(radius_mm):
        return marks
    if x is not None:
        return x, mark_beside(radius_mm, axis=0, mark_mm=x) or None
    return mark_beside(radius_mm, axis=1, mark_mm=y or 0.0) or None, y


def _unlike_spot(
    cases: dict[str, FillCase], marks: tuple[float | None, float | None]
) -> tuple[str, ...]:
    """Hold two given marks against the pair that the spot makes.

    Raises
    ------
    StopoutError
        If an axis is off by a factor of two or more.
    """
    from stopout.clearing.beam.mark import hold_against_spot
    from stopout.clearing.beam.spot import GaussianSpot
    from stopout.values import Measured

    spot, (x, y) = cases["x"].spot, marks
    if x is None or y is None or not isinstance(spot, GaussianSpot):
        return ()
    check = hold_against_spot((Measured(value=x), Measured(value=y)), spot.radius_mm)
    if not check.is_told:
        return ()
    pair = " x ".join(f"{axis:.3f}" for axis in check.expected_mm)
    words = (
        f"a mark of {x:.3f} x {y:.3f} mm is not one that this spot makes: for the same mean it "
        f"would be {pair} mm"
    )
    if check.is_stop:
        raise StopoutError(f"{words}; check mark, spot and what the spot's width means")
    swapped = "exchange --mark and --mark-y" if check.is_swapped else "measure both ways again"
    return (f"{words}; {swapped}",)


def _focus(tables: dict[str, SpacingTable], wavelength_nm: float, m2: float) -> FocusStep | None:
    """Return what the focus has to hold; None for a uniform spot, which has no such law."""
    from stopout.clearing.beam.focus import focus_step
    from stopout.clearing.beam.spot import GaussianSpot

    spot = tables["x"].case.spot
    if not isinstance(spot, GaussianSpot):
        return None
    # Lines along y are measured across x, and the reverse.
    ratios = (tables["y"].dose_ratio, tables["x"].dose_ratio)
    return focus_step(spot, wavelength_nm=wavelength_nm, dose_ratios=ratios, m2=(m2, m2))


def _plain(
    table: SpacingTable,
    tables: dict[str, SpacingTable],
    cautions: tuple[str, ...],
    focus: FocusStep | None,
    picture: Path | None,
) -> dict[str, Any]:
    """The table as plain data; what is infinite or not known is null."""
    case = table.case
    return {
        "spacing_mm": _six(table.spacing_mm),
        "line_direction": case.line_direction,
        "spacing_by_direction_mm": {a: _six(t.spacing_mm) for a, t in tables.items()},
        "mark_across_mm": _six(table.mark_across_mm),
        "radius_across_mm": _six(table.radius_across_mm),
        "dose_ratio": _six(table.dose_ratio),
        "accumulation_exponent": case.exponent,
        "passes": case.passes,
        "overlap_of": "the mark across the lines",
        "widest_mm": _six(table.widest_mm),
        "reason": table.reason,
        "cautions": list(cautions),
        "focus": None
        if focus is None
        else {
            "tolerance_mm": _six(focus.tolerance_mm),
            "depth_mm": _six(focus.depth_mm),
            "mark_change": focus.change,
        },
        "picture": None if picture is None else str(picture),
        "rows": [_plain_row(row) for row in table.rows],
    }


def _plain_row(row: SpacingRow) -> dict[str, Any]:
    values = {
        key: _six(value) if isinstance(value, float) else value
        for key, value in asdict(row).items()
    }
    return {**values, "leaves_threads": row.leaves_threads}


def _six(value: float | None) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    return six_digits(value)


def _printed(table: SpacingTable, focus: FocusStep | None, *, is_ideal: bool) -> Iterator[str]:
    """The table for reading: heading, rows, the reason."""
    yield from _heading(table)
    yield ""
    headings, rows = _cells(table)
    widths = [
        max(len(part) for part in (*heading.split("\n"), *(row[k] for row in rows)))
        for k, heading in enumerate(headings)
    ]
    for level in range(2):
        parts = [heading.split("\n")[level] for heading in headings]
        yield "  " + "  ".join(p.rjust(w) for p, w in zip(parts, widths, strict=True))
    for row, cells in zip(table.rows, rows, strict=True):
        start = "> " if row.is_chosen else "  "
        tail = "  threads" if row.leaves_threads else ""
        yield start + "  ".join(c.rjust(w) for c, w in zip(cells, widths, strict=True)) + tail
    yield ""
    yield from wrapped(f"Chosen: {table.reason}", widest=_WIDEST)
    if focus is not None:
        at_best = "(at best, as M^2 is 1) " if is_ideal else ""
        yield from wrapped(
            f"Focus: the mark stays within {100 * focus.change:g} % as long as the paint lies "
            f"within {at_best}{focus.tolerance_mm:.2g} mm above or below the focus.",
            widest=_WIDEST,
        )


def _heading(table: SpacingTable) -> Iterator[str]:
    case = table.case
    across = "y" if case.line_direction == "x" else "x"
    size = (
        f"uniform spot {table.mark_across_mm:.4g} mm wide across them"
        if table.radius_across_mm is None
        else f"1/e2 radius {table.radius_across_mm:.4g} mm across them"
    )
    passes = f" in {case.passes} passes" if case.passes > 1 else ""
    yield from wrapped(
        f"Lines along {case.line_direction}, apart in {across}; {size}. One line clears "
        f"{table.mark_across_mm:.4g} mm at a dose ratio of {table.dose_ratio:.3g}{passes}.",
        widest=_WIDEST,
    )


def _cells(table: SpacingTable) -> tuple[list[str], list[list[str]]]:
    has_steps, has_time = table.case.step_mm is not None, table.case.speed_mm_s is not None
    headings = ["spacing\nmm"]
    headings += ["motor\nsteps"] if has_steps else []
    headings += ["overlap\nof mark", "dose\nripple", "valley/\nthreshold", "edge scallop\nmm"]
    headings += ["lines\nper inch", "time\nper cm^2" if has_time else "path mm\nper cm^2"]
    rows = []
    for row in table.rows:
        cells = [f"{row.spacing_mm:.4f}"]
        cells += [str(row.steps)] if has_steps else []
        cells += [f"{100 * row.overlap:.0f} %", f"{100 * row.ripple:.1f} %"]
        cells += [f"{row.valley_dose_ratio:.2f}"]
        cells += [f"{row.scallop_mm:.4f}" if math.isfinite(row.scallop_mm) else "-"]
        cells += [f"{row.lines_per_inch:.1f}"]
        cells += [
            f"{row.path_mm_per_cm2:.0f}"
            if row.time_s_per_cm2 is None
            else format_duration(row.time_s_per_cm2)
        ]
        rows.append(cells)
    return headings, rows
