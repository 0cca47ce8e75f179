"""Reading a plan's folder again: its program, and the machine that it was made for."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stopout.errors import StopoutError

if TYPE_CHECKING:
    from stopout.values import Machine

__all__ = ["PlanFolder", "plan_json", "read_plan_folder"]

_PLAN_FILE = "plan.json"
_FORMAT = "stopout-plan-1"
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
    mark_mm: tuple[float, float]
    power: float
    speed_mm_s: float
    dose_ratio_max: float


def read_plan_folder(folder: Path, number: int | None) -> PlanFolder:
    """Read a plan's folder.

    Parameters
    ----------
    folder : Path
        The folder.
    number : int or None
        The coat; None where only one is cleared.

    Raises
    ------
    StopoutError
        If it is no plan's folder, is damaged, has no program (its plan says stop), or clears
        other coats.
    """
    data = plan_json(folder)
    if "machine" not in data:
        raise StopoutError(
            f"{folder / _PLAN_FILE} does not say which machine it was made for, as plans of "
            f"earlier versions did not; {_PLAN_AGAIN}"
        )
    try:
        coat = _coat(folder, data, number)
        name = str(coat["files"]["program"])
        clearing = coat["clearing"]
        mark_x, mark_y = clearing["mark_mm"]
        left, bottom = data["blank_at_mm"]
        plan = PlanFolder(
            name=str(data["job"]["name"]),
            revision=str(data["job"]["revision"]),
            worked_side=str(data["orientation"]["worked_side"]),
            coat=int(coat["coat"]),
            program=name,
            text=_program_text(folder, name),
            machine=_machine(data["machine"]),
            blank_at_mm=(float(left), float(bottom)),
            mark_mm=(float(mark_x), float(mark_y)),
            power=float(clearing["power_fraction"]),
            speed_mm_s=float(clearing["speed_mm_s"]),
            dose_ratio_max=float(clearing["dose_ratio_max"]),
        )
    except StopoutError:
        raise
    except (KeyError, TypeError, ValueError, AttributeError):
        raise _damaged(folder) from None
    positive = (plan.power, plan.speed_mm_s, *plan.mark_mm)
    if not all(0 < value < float("inf") for value in positive):
        raise _damaged(folder)
    return plan


def _damaged(folder: Path) -> StopoutError:
    return StopoutError(f"{folder / _PLAN_FILE} is damaged; {_PLAN_AGAIN}")


def plan_json(folder: Path) -> dict[str, Any]:
    """Read a plan folder's plan.json, its format checked and nothing else.

    Parameters
    ----------
    folder : Path
        The folder.

    Raises
    ------
    StopoutError
        If it is no plan's folder, or of another format.
    """
    path = folder / _PLAN_FILE
    if not folder.is_dir():
        raise StopoutError(f"{folder} is not a folder; give the folder of a plan")
    if not path.is_file():
        raise StopoutError(f"{folder} holds no {_PLAN_FILE}, so it is not a plan's folder")
    try:
        data = json.loads(path.read_bytes())
        found = data["format"]
    except (ValueError, TypeError, KeyError):
        raise StopoutError(f"{path} is not a plan; {_PLAN_AGAIN}") from None
    if found != _FORMAT:
        raise StopoutError(f"{path} is a plan of format {found!r}, not {_FORMAT!r}; {_PLAN_AGAIN}")
    return dict(data)


def _coat(folder: Path, data: dict[str, Any], number: int | None) -> dict[str, Any]:
    """Return the entry of the coat that is asked for, or of the only one there is."""
    coats: dict[int, dict[str, Any]] = {int(coat["coat"]): coat for coat in data["coats"]}
    with_program = [k for k, coat in coats.items() if coat["files"]["program"] is not None]
    if data.get("method", "laser") != "laser":
        raise StopoutError(
            f"{folder} holds no program: its plan opens the resist without a beam "
            f"({data['method']}); strip the resist and begin again"
        )
    if not with_program:
        stops = [item["message"] for item in data["findings"] if item["level"] == "stop"]
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


def _machine(fields: object) -> Machine:
    """Read the plan's machine; a ValueError where it is none."""
    from pydantic import TypeAdapter

    from stopout.values import Machine

    machine = TypeAdapter(Machine).validate_python(fields)
    positive = (
        machine.top_speed_mm_s,
        machine.acceleration_mm_s2,
        machine.cornering_mm,
        machine.power_word,
        *machine.bed_mm,
    )
    if not all(0 < value < float("inf") for value in positive):
        raise ValueError
    return machine
