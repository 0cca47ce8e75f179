"""`stopout read`: measures a scanned coupon and fits the shop's own numbers."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stopout.cli.book import BookOption
from stopout.cli.bounded import at_stage
from stopout.cli.output import check_replaceable, write_file
from stopout.cli.scanning.options import (
    PNG_START,
    TONES,
    Tone,
    day_of,
    scan_dpi,
)
from stopout.errors import CouponError, StopoutError, UnitError
from stopout.units import (
    parse_length_mm,
    parse_temperature_degc,
    parse_time_s,
)
from stopout.values import Measured

if TYPE_CHECKING:
    from stopout.coupons import CouponLayout
    from stopout.scans.reading.whole import Depths, Reading

__all__ = ["register"]

_NAMED_DEPTH = re.compile(r"\s*([^=]+?)\s*=\s*(.+)")
_SPREAD = re.compile(r"(.+?)\s*(?:\+-|±|\+/-)\s*(.+)")
_BARS_MM = (15.0, 300.0)


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @app.command()
    def read(
        scan: Annotated[Path, typer.Argument(metavar="SCAN", help="The scan: PNG, JPEG or TIFF.")],
        coupon: Annotated[
            Path, typer.Option(metavar="DIR", help="The coupon's folder, with its coupon.json.")
        ],
        resolution: Annotated[
            str | None,
            typer.Option(metavar="DPI", help="What it was scanned at. [the file's own]"),
        ] = None,
        depth: Annotated[
            list[str] | None,
            typer.Option(
                metavar="LENGTH",
                help="Etched depth by hand, such as 0.06mm or 0.06mm+-0.002mm; given several "
                "times, the mean; with a pit's or slot's name, NAME=0.06mm, also how the depth "
                "changes with the width.",
            ),
        ] = None,
        time: Annotated[
            str | None, typer.Option(metavar="TIME", help="How long it was etched, for the rate.")
        ] = None,
        temperature: Annotated[
            str | None,
            typer.Option(metavar="TEMPERATURE", help="Of the bath as measured. [the job's]"),
        ] = None,
        bar: Annotated[
            str | None,
            typer.Option(
                metavar="LENGTH",
                help="For a photograph: from disc to disc of the scale bar beside the coupon, as "
                "a rule says, such as 50.1mm.",
            ),
        ] = None,
        tone: Annotated[
            Tone,
            typer.Option(
                help="What the file's grey levels are: light (sRGB, as scanners and cameras "
                "write) or plain. [by the edges, else sRGB]",
                case_sensitive=False,
            ),
        ] = Tone.AUTO,
        keep: Annotated[
            bool, typer.Option("--keep", help="Write the numbers into the shop book.")
        ] = False,
        book: BookOption = None,
        date: Annotated[
            str | None,
            typer.Option(metavar="DATE", help="When it was made, such as 2026-11-20. [today]"),
        ] = None,
        picture: Annotated[
            Path | None, typer.Option(metavar="FILE", help="Draw the fit (PNG).")
        ] = None,
        quiet: Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")] = False,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print a summary as JSON on standard output.")
        ] = False,
    ) -> None:
        """Measure a scanned coupon and fit the shop's numbers, each with its uncertainty.

        Example: stopout read scan.png --coupon valve-tag-coupon --resolution 1200dpi
        """
        from stopout.cli.scanning.read_report import lines_of, summary_of
        from stopout.library.scans import coupon_layout, reading_of, scan_bytes

        if picture is not None:
            check_replaceable(picture, starts=(PNG_START,), kind="PNG")
        day = day_of(date)
        layout = coupon_layout(coupon)
        depths = _depths(layout, depth or [])
        _check_etch_only(layout, depth=depth, time=time, temperature=temperature)
        data = scan_bytes(scan)
        reading = reading_of(
            data,
            layout,
            name=scan.name,
            resolution_dpi=None if resolution is None else scan_dpi(resolution),
            depths=depths,
            tone=TONES[tone],
            bar_mm=None if bar is None else _bar_mm(bar),
            tell=at_stage,
        )
        kept = None
        if keep:
            kept = _kept(reading, book, day, _sha256(data), _rate_given(time, temperature))
        if picture is not None:
            from stopout.pictures.fits import fits_png

            write_file(picture, fits_png(reading, title=_title(layout, scan)))
        if as_json:
            summary = {
                **summary_of(reading),
                "scan_sha256": _sha256(data),
                "kept": kept,
                "picture": None if picture is None else str(picture),
            }
            typer.echo(json.dumps(summary, indent=2, ensure_ascii=False))
        if quiet:
            raise typer.Exit(_status(reading))
        for caution in reading.cautions:
            typer.echo(f"caution: {caution}.", err=True)
        if not as_json:
            for row in lines_of(reading, scan.name):
                typer.echo(row)
            if kept is not None:
                typer.echo(f"kept as entry {kept['id']} of {kept['book']}")
            if picture is not None:
                typer.echo(f"picture: {picture}")
        raise typer.Exit(_status(reading))


# --- what is given ----------------------------------------------------------------------------


def _bar_mm(text: str) -> float:
    try:
        length = parse_length_mm(text.strip())
    except UnitError as error:
        raise StopoutError(f"--bar: {error}") from None
    low, high = _BARS_MM
    if not low <= length <= high:
        raise StopoutError(
            f"--bar {text!r} is no length of a scale bar; it lies between {low:g} and {high:g} mm, "
            'such as "50.1mm"'
        )
    return length


def _depths(layout: CouponLayout, texts: list[str]) -> Depths:
    """The depths by hand: plain ones together, and those with a name."""
    from statistics import fmean, stdev

    from stopout.scans.reading.whole import Depths

    plain: list[Measured] = []
    named: dict[str, float] = {}
    for text in texts:
        found = _NAMED_DEPTH.fullmatch(text)
        if found:
            named[found[1]] = _depth(found[2]).value
        else:
            plain.append(_depth(text))
    if not plain:
        return Depths(by_id=named)
    values = [one.value for one in plain]
    if len(values) == 1:
        return Depths(everywhere=plain[0], by_id=named)
    sd = max(stdev(values) / len(values) ** 0.5, max(one.sd for one in plain) / len(values) ** 0.5)
    return Depths(everywhere=Measured(value=fmean(values), sd=sd), by_id=named)


def _depth(text: str) -> Measured:
    found = _SPREAD.fullmatch(text.strip())
    try:
        if found:
            value, sd = parse_length_mm(found[1].strip()), parse_length_mm(found[2].strip())
        else:
            value, sd = parse_length_mm(text.strip()), 0.0
    except UnitError as error:
        raise StopoutError(f"--depth: {error}") from None
    if value <= 0 or sd < 0:
        raise StopoutError(f'--depth {text!r} is no depth; such as "0.06mm" or "0.06mm+-0.002mm"')
    return Measured(value=value, sd=sd)


def _check_etch_only(layout: CouponLayout, **given: object) -> None:
    for name, value in given.items():
        if value and layout.kind != "etch":
            raise StopoutError(f"--{name} belongs to an etch coupon; this is a clearing coupon")


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _title(layout: CouponLayout, scan: Path) -> str:
    return f"{layout.identity.job}: {scan.name}" if layout.identity.job else scan.name


def _status(reading: Reading) -> int:
    """1 where a number was refused, though lines for it are on the coupon."""
    from stopout.scans.fitting.clearing import Refused

    return int(any(isinstance(one, Refused) and one.has_lines for one in reading.axes))


# --- the shop book ----------------------------------------------------------------------------


def _rate_given(time: str | None, temperature: str | None) -> tuple[float | None, float | None]:
    """Time in s and temperature in degC, where they are given."""
    try:
        time_s = None if time is None else parse_time_s(time)
        degrees = None if temperature is None else parse_temperature_degc(temperature)
    except UnitError as error:
        raise StopoutError(str(error)) from None
    if time_s is not None and time_s <= 0:
        raise StopoutError(f'--time {time!r} is no time; such as "40min"')
    return time_s, degrees


def _kept(
    reading: Reading,
    book: Path | None,
    day: str,
    scan_sha256: str,
    rate: tuple[float | None, float | None],
) -> dict[str, object]:
    from stopout.library.book import book_for_keeping
    from stopout.library.keeping import record_of_reading
    from stopout.records.from_coupon import timing_record

    if reading.is_tone_open:
        raise CouponError(
            "nothing is kept while the tone is open: the numbers hang on whether the scan's grey "
            f"levels are sRGB or plain (widths {abs(100 * reading.tone_change):.0f} % apart); give "
            "--tone light for sRGB, which most scanners write, --tone plain, or a finer scan"
        )
    record = record_of_reading(
        reading, date=day, scan_sha256=scan_sha256, time_s=rate[0], temperature_degc=rate[1]
    )
    timing = timing_record(
        reading.layout.identity, reading.timing, date=day, scan_sha256=scan_sha256
    )
    with book_for_keeping(book) as opened:
        kept = opened.keep(record)
        if timing is not None:
            opened.keep(timing)
        return {"id": kept.ident, "is_new": kept.is_new, "book": str(opened.path)}
