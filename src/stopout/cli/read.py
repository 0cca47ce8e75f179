"""`stopout read`: measures a scanned coupon and fits the shop's own numbers."""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING

import typer

from stopout.cli.asked.options import AS_JSON, BOOK, QUIET, REQUIRED, Given, Option, command
from stopout.cli.limits.bounded import at_stage
from stopout.cli.scanning.options import RESOLUTION, SCAN, TONE, tell
from stopout.errors import CouponError, StopoutError, UnitError
from stopout.folders import check_replaceable, write_file
from stopout.units import parse_length_mm

if TYPE_CHECKING:
    from stopout.coupons import CouponLayout
    from stopout.scans.reading.whole import Depths, Reading
    from stopout.values import Measured

_NAMED_DEPTH = re.compile(r"\s*([^=]+?)\s*=\s*(.+)")
_SPREAD = re.compile(r"(.+?)\s*(?:\+-|±|\+/-)\s*(.+)")
# A table is read as one: an option in a line or two.
# fmt: off
_OPTIONS = (
    SCAN,
    Option("coupon", "folder", "The coupon's folder, with its coupon.json.", REQUIRED),
    RESOLUTION,
    Option("depth", "text", "Etched depth by hand, such as 0.06mm or 0.06mm+-0.002mm; given "
           "several times, the mean; with a pit's or slot's name, NAME=0.06mm, also how the depth "
           "changes with the width.", metavar="LENGTH", is_many=True),
    Option("time", "time", "How long it was etched, for the rate."),
    Option("temperature", "temperature", "Of the bath as measured. [the job's]", least=0.1,
           most=99.0),
    Option("bar", "length", "For a photograph: from disc to disc of the scale bar beside the "
           "coupon, as a rule says, such as 50.1mm.", least=15.0, most=300.0),
    TONE,
    Option("keep", "switch", "Write the numbers into the shop book."),
    BOOK,
    Option("date", "date", "When it was made, such as 2026-11-20. [today]"),
    Option("picture", "file", "Draw the fit (PNG)."),
    QUIET,
    AS_JSON,
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, *_OPTIONS)
    def read(given: Given) -> None:
        """Measure a scanned coupon and fit the shop's numbers, each with its uncertainty.

        Example: stopout read scan.png --coupon valve-tag-coupon --resolution 1200dpi
        """
        from stopout.cli.scanning.read_report import lines_of, summary_of
        from stopout.library.scans import coupon_layout, reading_of, scan_bytes

        picture, scan = given.picture, given.scan
        if picture is not None:
            check_replaceable(picture, kind="PNG")
        layout = coupon_layout(given.coupon)
        depths = _depths(layout, given.depth)
        _check_etch_only(layout, depth=given.depth, time=given.time, temperature=given.temperature)
        data = scan_bytes(scan)
        reading = reading_of(
            data,
            layout,
            name=scan.name,
            resolution_dpi=given.resolution,
            depths=depths,
            tone=given.tone,
            bar_mm=given.bar,
            tell=at_stage,
        )
        kept = None
        if given.keep:
            kept = _kept(reading, given, hashlib.sha256(data).hexdigest())
        if picture is not None:
            from stopout.pictures.fits import fits_png

            job = layout.identity.job
            write_file(
                picture, fits_png(reading, title=f"{job}: {scan.name}" if job else scan.name)
            )
        tell(
            given,
            summary_of(reading),
            lines_of(reading, scan.name),
            cautions=reading.cautions,
            data=data,
            kept=kept,
        )
        raise typer.Exit(_status(reading))


# --- what is given ----------------------------------------------------------------------------


def _depths(layout: CouponLayout, texts: list[str]) -> Depths:
    """The depths by hand: plain ones together, and those with a name."""
    from statistics import fmean, stdev

    from stopout.scans.reading.whole import Depths
    from stopout.values import Measured

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
    from stopout.values import Measured

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


def _status(reading: Reading) -> int:
    """1 where a number was refused, though lines for it are on the coupon."""
    from stopout.scans.fitting.clearing import Refused

    return int(any(isinstance(one, Refused) and one.has_lines for one in reading.axes))


# --- the shop book ----------------------------------------------------------------------------


def _kept(reading: Reading, given: Given, scan_sha256: str) -> dict[str, object]:
    from stopout.library.book import book_for_keeping
    from stopout.library.keeping import doubt_of, record_of_reading
    from stopout.records.from_coupon import timing_record

    if reading.is_tone_open:
        raise CouponError(
            "nothing is kept while the tone is open: the numbers hang on whether the scan's grey "
            f"levels are sRGB or plain (widths {abs(100 * reading.tone_change):.0f} % apart); give "
            "--tone light for sRGB, which most scanners write, --tone plain, or a finer scan"
        )
    record = record_of_reading(
        reading,
        date=given.date,
        scan_sha256=scan_sha256,
        time_s=given.time,
        temperature_degc=given.temperature,
    )
    timing = timing_record(
        reading.layout.identity, reading.timing, date=given.date, scan_sha256=scan_sha256
    )
    with book_for_keeping(given.book) as opened:
        kept = opened.keep(record)
        if timing is not None:
            opened.keep(timing)
        return {
            "id": kept.ident,
            "is_new": kept.is_new,
            "book": str(opened.path),
            "note": doubt_of(record, kept.ident),
        }
