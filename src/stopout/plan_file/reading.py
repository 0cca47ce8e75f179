"""Reading plan.json again."""

from __future__ import annotations

import json
from os import PathLike
from pathlib import Path

from stopout.errors import StopoutError
from stopout.plan_file import FORMAT, PLAN_FILE
from stopout.plan_file.record import PlanRecord

_AGAIN = "plan the job again with stopout plan"
_MOST_BYTES = 200_000_000
# Parts that plans of earlier versions lack, and what each says.
_LATER = {"machine": "which machine it was made for", "blank": "what the blank is"}


def read_plan(folder: str | PathLike[str]) -> PlanRecord:
    """Read a plan's folder: its plan.json, as far as later steps take something from it.

    Parameters
    ----------
    folder : str or path
        The folder.

    Returns
    -------
    PlanRecord

    Raises
    ------
    StopoutError
        If it is no plan's folder, is damaged, or is of another format.
    """
    place = Path(folder)
    path = place / PLAN_FILE
    if not place.is_dir():
        raise StopoutError(f"{place} is not a folder; give the folder of a plan")
    if not path.is_file():
        raise StopoutError(f"{place} holds no {PLAN_FILE}, so it is not a plan's folder")
    if path.stat().st_size > _MOST_BYTES:
        raise StopoutError(f"{path} is too large for a plan; {_AGAIN}")
    try:
        data = json.loads(path.read_bytes())
        found = data["format"]
    except (ValueError, TypeError, KeyError, RecursionError):
        raise StopoutError(f"{path} is not a plan; {_AGAIN}") from None
    if found != FORMAT:
        raise StopoutError(f"{path} is a plan of format {found!r}, not {FORMAT!r}; {_AGAIN}")
    for key, what in _LATER.items():
        if key not in data:
            raise StopoutError(
                f"{path} does not say {what}, as plans of earlier versions did not; {_AGAIN}"
            )
    return _record(path, data)


def _record(path: Path, data: object) -> PlanRecord:
    from pydantic import TypeAdapter, ValidationError

    try:
        record = TypeAdapter(PlanRecord).validate_python(data)
    except ValidationError as error:
        at = ".".join(map(str, error.errors()[0]["loc"]))
        raise StopoutError(f"{path} is damaged at {at}; {_AGAIN}") from None
    if not all(0 < value < float("inf") for value in _positive(record)):
        raise StopoutError(f"{path} is damaged: a number is out of its range; {_AGAIN}")
    return record


def _positive(record: PlanRecord) -> list[float]:
    """The numbers that nothing can be worked with unless they are above nought."""
    values = [record.blank.width_mm, record.blank.height_mm]
    for coat in record.coats:
        if coat.clearing is not None:
            clearing = coat.clearing
            values += [*clearing.mark_mm, clearing.power_fraction, clearing.speed_mm_s]
    if record.machine is not None:
        machine = record.machine
        values += [
            machine.top_speed_mm_s,
            machine.acceleration_mm_s2,
            machine.cornering_mm,
            machine.power_word,
            *machine.bed_mm,
        ]
    return values
