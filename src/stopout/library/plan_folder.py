"""Reading a plan's folder again: its program, and the machine that it was made for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.errors import StopoutError
from stopout.plan_file import PLAN_FILE

if TYPE_CHECKING:
    from stopout.plan_file.record import CoatRecord, PlacedPieceRecord, PlanRecord
    from stopout.values import Machine

_PLAN_AGAIN = "plan the job again with stopout plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFolder:
    """What of a plan folder rework needs, for one coat; `text` is its program."""

    name: str
    revision: str
    worked_side: str
    coat: int
    program: str
    text: str
    machine: Machine
    blank_at_mm: tuple[float, float]
    size_mm: tuple[float, float]
    mark_mm: tuple[float, float]
    power: float
    speed_mm_s: float
    dose_ratio_max: float
    piece_mm: tuple[float, float, float, float] | None = None


def read_plan_folder(folder: Path, number: int | None, *, piece: str | None = None) -> PlanFolder:
    """Read a plan's folder.

    Parameters
    ----------
    folder : Path
        The folder.
    number : int or None
        The coat; None where only one is cleared.
    piece : str, optional
        The number of a piece of a series: its panel's program is read.

    Raises
    ------
    StopoutError
        If it is no plan's folder, is damaged, has no program (its plan says stop), or clears
        other coats.
    """
    from stopout.plan_file import read_plan

    record = read_plan(folder)
    if record.draft:
        raise StopoutError(f"{folder} holds a draft, without a program; {_PLAN_AGAIN} JOB.toml")
    coat = _coat(folder, record, number)
    name, clearing = coat.files.program, coat.clearing
    if name is None or clearing is None or record.machine is None or record.blank_at_mm is None:
        raise _damaged(folder)
    box = None
    if piece is not None:
        found = _piece(folder, record, piece)
        (x, y), (wide, high) = found.at_mm, found.size_mm
        name, box = found.program or name, (x, y, x + wide, y + high)
    return PlanFolder(
        name=record.job.name,
        revision=record.job.revision,
        worked_side=record.orientation.worked_side,
        coat=coat.coat,
        program=name,
        text=_program_text(folder, name),
        machine=record.machine,
        blank_at_mm=record.blank_at_mm,
        size_mm=(record.blank.width_mm, record.blank.height_mm),
        mark_mm=clearing.mark_mm,
        power=clearing.power_fraction,
        speed_mm_s=clearing.speed_mm_s,
        dose_ratio_max=clearing.dose_ratio_max,
        piece_mm=box,
    )


def _piece(folder: Path, record: PlanRecord, number: str) -> PlacedPieceRecord:
    for piece in record.pieces:
        if piece.number == number:
            return piece
    if not record.pieces:
        raise StopoutError(f"{folder} is the plan of one piece; leave --piece out")
    first, last = record.pieces[0].number, record.pieces[-1].number
    raise StopoutError(f"{folder} has no piece {number}; it has {first} to {last}")


def _damaged(folder: Path) -> StopoutError:
    return StopoutError(f"{folder / PLAN_FILE} is damaged; {_PLAN_AGAIN}")


def _coat(folder: Path, record: PlanRecord, number: int | None) -> CoatRecord:
    """Return the coat with a program that is asked for, or the only one there is."""
    coats = {coat.coat: coat for coat in record.coats}
    with_program = [k for k, coat in coats.items() if coat.files.program is not None]
    if record.method != "laser":
        raise StopoutError(
            f"{folder} holds no program: its plan opens the resist without a beam "
            f"({record.method}); strip the resist and begin again"
        )
    if not with_program:
        stops = [finding.message for finding in record.findings if finding.level == "stop"]
        why = f": {stops[0]}" if stops else ""
        raise StopoutError(f"{folder} holds no program, for its plan says stop{why}")
    listed = ", ".join(map(str, with_program))
    if number is None and len(with_program) > 1:
        raise StopoutError(f"{folder} clears coats {listed}; say which one with --coat")
    if number is not None and number not in with_program:
        kind = "coat" if len(with_program) == 1 else "coats"
        raise StopoutError(f"{folder} has no program for coat {number}; it clears {kind} {listed}")
    return coats[with_program[0] if number is None else number]


def _program_text(folder: Path, name: str) -> str:
    if Path(name).name != name:
        raise _damaged(folder)
    path = folder / name
    if not path.is_file():
        raise StopoutError(f"{path} is missing; {_PLAN_AGAIN}")
    try:
        return path.read_bytes().decode("ascii")
    except UnicodeDecodeError:
        raise StopoutError(f"{path} is no program of ours: it is not plain ASCII") from None
