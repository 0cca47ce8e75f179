"""What an inspection takes from a plan's folder: the mask of one coat, the face, the undercut."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stopout.errors import StopoutError
from stopout.plan_file import read_plan

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.plan_file.record import BlankRecord, PlannedJob
    from stopout.scans.inspecting.piece import Intended

_MOST_BYTES = 200_000_000
_PLAN_AGAIN = "plan the job again with stopout plan"
_PATH = re.compile(r'<path d="([^"]*)"')
_NUMBERS = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?,-?\d+(?:\.\d+)?(?:e-?\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceToInspect:
    """A plan as an inspection needs it; `etch`, `blank` and `job` are plan.json's own parts."""

    folder: Path
    coat: int
    intended: Intended
    width_mm: float
    is_back_worked: bool
    job: PlannedJob
    blank: BlankRecord
    etch: dict[str, Any] | None


def read_planned_piece(folder: Path, number: int | None) -> PieceToInspect:
    """Read what of a plan's folder a scan is held against.

    Parameters
    ----------
    folder : Path
        The plan's folder.
    number : int or None
        The coat; None where only one is cleared.

    Raises
    ------
    StopoutError
        If it is no plan's folder, is damaged or too old, or clears other coats.
    """
    import shapely

    from stopout.scans.inspecting.piece import Intended

    record = read_plan(folder)
    if record.draft:
        raise StopoutError(f"{folder} holds a draft, not a plan; {_PLAN_AGAIN} JOB.toml")
    coat, blank = record.coat(number, folder=folder), record.blank
    try:
        rings = [shapely.Polygon(ring) for ring in blank.face_mm]
        face = rings[0]
        for ring in rings[1:]:
            face = face.symmetric_difference(ring)
        opening = _opening(folder, coat.files.mask_svg, blank.height_mm)
    except StopoutError:
        raise
    except (ValueError, IndexError):
        raise StopoutError(f"{folder / 'plan.json'} is damaged; {_PLAN_AGAIN}") from None
    return PieceToInspect(
        folder=folder,
        coat=coat.coat,
        intended=Intended(
            opening=opening,
            face=face,
            undercut_mm=record.undercut_mm,
            undercut_sd_mm=record.undercut_spread_mm,
            # Where no beam clears, the narrowest opening.
            mark_mm=(
                coat.mask.narrowest_opening_mm
                if coat.clearing is None
                else min(coat.clearing.mark_mm)
            ),
        ),
        width_mm=blank.width_mm,
        is_back_worked=record.orientation.mirrored,
        job=record.job,
        blank=blank,
        etch=record.etch,
    )


def _opening(folder: Path, name: str | None, height_mm: float) -> BaseGeometry:
    """The openings of a mask file of ours: one path a part, its outline first, then its holes."""
    import shapely

    if name is None or Path(name).name != name:
        raise ValueError
    path = folder / name
    if not path.is_file():
        raise StopoutError(f"{path} is missing; {_PLAN_AGAIN}")
    if path.stat().st_size > _MOST_BYTES:
        raise StopoutError(f"{path} is too large for a mask; {_PLAN_AGAIN}")
    parts = []
    for data in _PATH.findall(path.read_text(encoding="utf-8")):
        rings = []
        for ring in data.split("Z")[:-1]:
            pairs = [pair.split(",") for pair in _NUMBERS.findall(ring)]
            rings.append([(float(x), height_mm - float(y)) for x, y in pairs])
        parts.append(shapely.Polygon(rings[0], rings[1:]))
    if not parts:
        raise StopoutError(f"{path} shows no openings; there is nothing to hold a scan against")
    whole = shapely.make_valid(shapely.MultiPolygon(parts))
    polygons = [
        part
        for part in shapely.get_parts(shapely.get_parts(whole))
        if part.geom_type == "Polygon" and part.area > 1e-6
    ]
    return shapely.MultiPolygon(polygons)
