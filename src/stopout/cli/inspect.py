"""`stopout inspect`: holds a scan of a cleared or etched piece against its plan."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

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
    from stopout.library.planned_piece import PlannedPiece
    from stopout.scans.inspecting.piece import Inspection

__all__ = ["register"]


class _Stage(StrEnum):
    CLEARED = "cleared"
    ETCHED = "etched"


_STAGES: dict[_Stage | None, Literal["cleared", "etched"] | None] = {
    None: None,
    _Stage.CLEARED: "cleared",
    _Stage.ETCHED: "etched",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What is told alike for every scan of the piece."""

    dpi: float | None
    tone: Literal["auto", "plain", "light"]
    allowed_mm: float | None
    is_seen_through: bool


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @app.command()
    def inspect(
        scan: Annotated[Path, typer.Argument(metavar="SCAN", help="The scan: PNG, JPEG or TIFF.")],
        plan: Annotated[
            Path, typer.Option(metavar="DIR", help="The plan's folder, with its plan.json.")
        ],
        coat: Annotated[
            int | None, typer.Option(metavar="K", help="Which coat. [the only one]")
        ] = None,
        stage: Annotated[
            _Stage | None,
            typer.Option(
                help="After clearing, or after etching with the resist stripped. [by the edges]",
                case_sensitive=False,
            ),
        ] = None,
        cleared: Annotated[
            Path | None,
            typer.Option(
                metavar="SCAN0",
                help="A scan of this piece before it was etched, from which the undercut counts.",
            ),
        ] = None,
        moved: Annotated[
            Path | None,
            typer.Option(
                metavar="SCAN2",
                help="A second scan, the piece wiped and moved on the glass: dust falls out.",
            ),
        ] = None,
        through_front: Annotated[
            bool,
            typer.Option(
                "--through-front", help="A clear piece is scanned through its front, turned over."
            ),
        ] = False,
        resolution: Annotated[
            str | None,
            typer.Option(metavar="DPI", help="What it was scanned at. [the file's own]"),
        ] = None,
        tolerance: Annotated[
            str | None,
            typer.Option(
                metavar="LENGTH",
                help="How far an edge may stand off. [10um, a quarter of a pixel if that is more]",
            ),
        ] = None,
        tone: Annotated[
            Tone,
            typer.Option(
                help="What the file's grey levels are: plain, or light encoded as sRGB.",
                case_sensitive=False,
            ),
        ] = Tone.AUTO,
        depth: Annotated[
            str | None,
            typer.Option(metavar="LENGTH", help="Etched depth by hand, to keep the undercut."),
        ] = None,
        time: Annotated[
            str | None, typer.Option(metavar="TIME", help="How long it was etched, likewise.")
        ] = None,
        temperature: Annotated[
            str | None,
            typer.Option(metavar="TEMPERATURE", help="Of the bath as measured. [the plan's]"),
        ] = None,
        keep: Annotated[
            bool,
            typer.Option(
                "--keep", help="Write undercut, depth and time into the shop book as a job record."
            ),
        ] = False,
        book: BookOption = None,
        date: Annotated[
            str | None,
            typer.Option(metavar="DATE", help="When it was etched, such as 2026-11-20. [today]"),
        ] = None,
        picture: Annotated[
            Path | None, typer.Option(metavar="FILE", help="Draw the scan and its faults (PNG).")
        ] = None,
        quiet: Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")] = False,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print a summary as JSON on standard output.")
        ] = False,
    ) -> None:
        """Hold a scan of the piece against its plan: what is missing, bare, too wide or narrow.

        Example: stopout inspect scan.png --plan valve-tag-plan --picture faults.png
        """
        from stopout.cli.scanning.inspect_report import lines_of, summary_of
        from stopout.library.planned_piece import read_planned_piece
        from stopout.library.scans import scan_bytes

        if picture is not None:
            check_replaceable(picture, starts=(PNG_START,), kind="PNG")
        day, dpi = day_of(date), None if resolution is None else scan_dpi(resolution)
        allowed = None if tolerance is None else _length(tolerance, "--tolerance")
        piece = read_planned_piece(plan, coat)
        given = _given(depth, time, temperature, keep=keep)
        data = scan_bytes(scan)
        asked = _Asked(dpi=dpi, tone=TONES[tone], allowed_mm=allowed, is_seen_through=through_front)
        found = _inspected(scan.name, data, piece, asked, _STAGES[stage])
        if moved is not None:
            found = _confirmed(found, moved, piece, asked)
        undercut = _undercut(found, cleared, piece, asked)
        kept = _kept(found, undercut, piece, given, book, day) if keep else None
        if picture is not None:
            from stopout.pictures.inspection import inspection_png

            words = f"{piece.job.name}, coat {piece.coat}, {found.stage}: {scan.name}"
            write_file(picture, inspection_png(found, piece.intended, title=words))
        if as_json:
            summary = {
                **summary_of(found, piece, undercut),
                "scan_sha256": hashlib.sha256(data).hexdigest(),
                "kept": kept,
                "picture": None if picture is None else str(picture),
            }
            typer.echo(json.dumps(summary, indent=2, ensure_ascii=False))
        if not quiet:
            for caution in found.cautions:
                typer.echo(f"caution: {caution}.", err=True)
        if not quiet and not as_json:
            for row in lines_of(found, piece, scan.name, undercut):
                typer.echo(row)
            if kept is not None:
                typer.echo(f"kept as entry {kept['id']} of {kept['book']}")
            if picture is not None:
                typer.echo(f"picture: {picture}")
        raise typer.Exit(_status(found))


def _status(found: Inspection) -> int:
    """1 where paint stays that should not or has gone, or the whole piece is mirrored or off."""
    from stopout.scans.inspecting.whole import whole_words

    is_spoilt = any(one.kind in ("missing", "pinhole") for one in found.faults)
    return int(is_spoilt or bool(whole_words(found)))


# --- what is given ----------------------------------------------------------------------------


def _length(text: str, option: str) -> float:
    try:
        length = parse_length_mm(text.strip())
    except UnitError as error:
        raise StopoutError(f"{option}: {error}") from None
    if not length > 0:
        raise StopoutError(f'{option} {text!r} is no length above zero; such as "0.02mm"')
    return length


def _given(
    depth: str | None, time: str | None, temperature: str | None, *, keep: bool
) -> tuple[float, float, float | None] | None:
    """Depth in mm, time in s and temperature in degC, for the shop book."""
    if not keep:
        for name, value in (("depth", depth), ("time", time), ("temperature", temperature)):
            if value is not None:
                raise StopoutError(f"--{name} goes into the shop book only; give --keep with it")
        return None
    if depth is None or time is None:
        raise StopoutError(
            "--keep writes a job record, which needs the depth as measured and the time in the "
            'bath; give --depth and --time, such as --depth 0.06mm --time "30 min"'
        )
    try:
        time_s = parse_time_s(time)
        degrees = None if temperature is None else parse_temperature_degc(temperature)
    except UnitError as error:
        raise StopoutError(str(error)) from None
    if time_s <= 0:
        raise StopoutError(f'--time {time!r} is no time; such as "40min"')
    return _length(depth, "--depth"), time_s, degrees


def _inspected(
    name: str,
    data: bytes,
    piece: PlannedPiece,
    asked: _Asked,
    stage: Literal["cleared", "etched"] | None,
) -> Inspection:
    from stopout.library.scans import inspection_of

    return inspection_of(
        data,
        piece,
        name=name,
        resolution_dpi=asked.dpi,
        stage=stage,
        tone=asked.tone,
        tolerance_mm=asked.allowed_mm,
        is_seen_through=asked.is_seen_through,
        tell=at_stage,
    )


def _confirmed(found: Inspection, moved: Path, piece: PlannedPiece, asked: _Asked) -> Inspection:
    """Hold the second scan's spots against the first's."""
    from stopout.library.scans import scan_bytes
    from stopout.scans.inspecting.dust import confirmed

    again = _inspected(moved.name, scan_bytes(moved), piece, asked, found.stage)
    return confirmed(found, again)


def _undercut(
    found: Inspection, cleared: Path | None, piece: PlannedPiece, asked: _Asked
) -> Measured | None:
    """Return the undercut: from the scan before, where there is one, else from the openings."""
    if cleared is None:
        return found.undercut_mm
    if found.stage == "cleared":
        raise CouponError(
            "--cleared is for a piece that has been etched since; this scan shows it cleared only "
            "(say --stage etched if it does not)"
        )
    from stopout.library.scans import scan_bytes
    from stopout.scans.inspecting.piece import undercut_between

    before = _inspected(
        cleared.name, scan_bytes(cleared), piece, replace(asked, allowed_mm=None), "cleared"
    )
    return undercut_between(before, found)


# --- the shop book ----------------------------------------------------------------------------


def _kept(
    found: Inspection,
    undercut: Measured | None,
    piece: PlannedPiece,
    given: tuple[float, float, float | None] | None,
    book: Path | None,
    day: str,
) -> dict[str, object]:
    from stopout.library.book import book_for_keeping
    from stopout.library.keeping import record_of_inspection

    if undercut is None or given is None:
        raise CouponError(
            "nothing is kept: the shop book takes the undercut of an etched piece, and this scan "
            "shows a cleared one"
        )
    if not undercut.value > 2 * undercut.sd:
        raise CouponError(
            f"nothing is kept: an undercut of {1000 * undercut.value:.1f} um with a standard "
            f"deviation of {1000 * undercut.sd:.1f} is not told from none"
        )
    depth_mm, time_s, degrees = given
    record = record_of_inspection(
        found,
        piece,
        undercut_mm=undercut,
        depth_mm=depth_mm,
        time_s=time_s,
        temperature_degc=degrees,
        date=day,
    )
    with book_for_keeping(book) as opened:
        kept = opened.keep(record)
        return {"id": kept.ident, "is_new": kept.is_new, "book": str(opened.path)}
