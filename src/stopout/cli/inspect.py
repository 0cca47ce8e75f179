"""`stopout inspect`: holds a scan of a cleared or etched piece against its plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import typer

from stopout.cli.asked.options import AS_JSON, BOOK, QUIET, REQUIRED, Given, Option, command
from stopout.cli.limits.bounded import at_stage
from stopout.cli.scanning.options import RESOLUTION, SCAN, TONE, tell
from stopout.errors import CouponError, StopoutError
from stopout.folders import check_replaceable, write_file

if TYPE_CHECKING:
    from stopout.library.planned_piece import PieceToInspect
    from stopout.scans.inspecting.piece import Inspection
    from stopout.values import Measured

_Stage = Literal["cleared", "etched"]

# A table is read as one: an option in a line or two.
# fmt: off
_OPTIONS = (
    SCAN,
    Option("plan", "folder", "The plan's folder, with its plan.json.", REQUIRED),
    Option("coat", "count", "Which coat. [the only one]", metavar="K"),
    Option("stage", "choice", "After clearing, or after etching with the resist stripped. [by the "
           "edges]", choices=("cleared", "etched")),
    Option("cleared", "file", "A scan of this piece before it was etched, from which the undercut "
           "counts.", metavar="SCAN0"),
    Option("moved", "file", "A second scan, the piece wiped and moved on the glass: dust falls "
           "out.", metavar="SCAN2"),
    Option("through_front", "switch", "A clear piece is scanned through its front, turned over."),
    RESOLUTION,
    Option("tolerance", "length", "How far an edge may stand off. [10um, a quarter of a pixel if "
           "that is more]"),
    TONE,
    Option("depth", "length", "Etched depth by hand, to keep the undercut."),
    Option("time", "time", "How long it was etched, likewise."),
    Option("temperature", "temperature", "Of the bath as measured. [the plan's]", least=0.1,
           most=99.0),
    Option("keep", "switch", "Write undercut, depth and time into the shop book as a job record."),
    BOOK,
    Option("date", "date", "When it was etched, such as 2026-11-20. [today]"),
    Option("picture", "file", "Draw the scan and its faults (PNG)."),
    QUIET,
    AS_JSON,
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, *_OPTIONS)
    def inspect(given: Given) -> None:
        """Hold a scan of the piece against its plan: what is missing, bare, too wide or narrow.

        Example: stopout inspect scan.png --plan valve-tag-plan --picture faults.png
        """
        from stopout.cli.scanning.inspect_report import lines_of, summary_of
        from stopout.library.planned_piece import read_planned_piece
        from stopout.library.scans import scan_bytes

        picture, scan = given.picture, given.scan
        if picture is not None:
            check_replaceable(picture, kind="PNG")
        piece = read_planned_piece(given.plan, given.coat)
        _check_keeping(given)
        data = scan_bytes(scan)
        found = _inspected(scan, data, piece, given, given.stage)
        if given.moved is not None:
            found = _confirmed(found, piece, given)
        undercut = _undercut(found, piece, given)
        kept = _kept(found, undercut, piece, given) if given.keep else None
        if picture is not None:
            from stopout.pictures.inspection import inspection_png

            words = f"{piece.job.name}, coat {piece.coat}, {found.stage}: {scan.name}"
            write_file(picture, inspection_png(found, piece.intended, title=words))
        tell(
            given,
            summary_of(found, piece, undercut),
            lines_of(found, piece, scan.name, undercut),
            cautions=found.cautions,
            data=data,
            kept=kept,
        )
        raise typer.Exit(_status(found))


def _status(found: Inspection) -> int:
    """1 where paint stays that should not or has gone, or the whole piece is mirrored or off."""
    from stopout.scans.inspecting.whole import whole_words

    is_spoilt = any(one.kind in ("missing", "pinhole") for one in found.faults)
    return int(is_spoilt or bool(whole_words(found)))


# --- what is given ----------------------------------------------------------------------------


def _check_keeping(given: Given) -> None:
    """What goes into the shop book, with `--keep` and only with it."""
    for name in () if given.keep else ("depth", "time", "temperature"):
        if getattr(given, name) is not None:
            raise StopoutError(f"--{name} goes into the shop book only; give --keep with it")
    if given.keep and (given.depth is None or given.time is None):
        raise StopoutError(
            "--keep writes a job record, which needs the depth as measured and the time in the "
            'bath; give --depth and --time, such as --depth 0.06mm --time "30 min"'
        )


def _inspected(
    scan: Path, data: bytes, piece: PieceToInspect, given: Given, stage: _Stage | None
) -> Inspection:
    from stopout.library.scans import inspection_of

    return inspection_of(
        data,
        piece,
        name=scan.name,
        resolution_dpi=given.resolution,
        stage=stage,
        tone=given.tone,
        tolerance_mm=given.tolerance,
        is_seen_through=given.through_front,
        tell=at_stage,
    )


def _confirmed(found: Inspection, piece: PieceToInspect, given: Given) -> Inspection:
    """Hold the second scan's spots against the first's."""
    from stopout.library.scans import scan_bytes
    from stopout.scans.inspecting.dust import confirmed

    data = scan_bytes(given.moved)
    return confirmed(found, _inspected(given.moved, data, piece, given, found.stage))


def _undercut(found: Inspection, piece: PieceToInspect, given: Given) -> Measured | None:
    """Return the undercut: from the scan before, where there is one, else from the openings."""
    if given.cleared is None:
        return found.undercut_mm
    if found.stage == "cleared":
        raise CouponError(
            "--cleared is for a piece that has been etched since; this scan shows it cleared only "
            "(say --stage etched if it does not)"
        )
    from stopout.library.scans import scan_bytes
    from stopout.scans.inspecting.piece import undercut_between

    data = scan_bytes(given.cleared)
    plain = Given(**{**vars(given), "tolerance": None})
    before = _inspected(given.cleared, data, piece, plain, "cleared")
    return undercut_between(before, found)


# --- the shop book ----------------------------------------------------------------------------


def _kept(
    found: Inspection, undercut: Measured | None, piece: PieceToInspect, given: Given
) -> dict[str, object]:
    from stopout.library.book import book_for_keeping
    from stopout.library.keeping import doubt_of, record_of_inspection

    if undercut is None:
        raise CouponError(
            "nothing is kept: the shop book takes the undercut of an etched piece, and this scan "
            "shows a cleared one"
        )
    if not undercut.value > 2 * undercut.sd:
        raise CouponError(
            f"nothing is kept: an undercut of {1000 * undercut.value:.1f} um with a standard "
            f"deviation of {1000 * undercut.sd:.1f} is not told from none"
        )
    record = record_of_inspection(
        found,
        piece,
        undercut_mm=undercut,
        depth_mm=given.depth,
        time_s=given.time,
        temperature_degc=given.temperature,
        date=given.date,
    )
    with book_for_keeping(given.book) as opened:
        kept = opened.keep(record)
        return {
            "id": kept.ident,
            "is_new": kept.is_new,
            "book": str(opened.path),
            "note": doubt_of(record, kept.ident),
        }
