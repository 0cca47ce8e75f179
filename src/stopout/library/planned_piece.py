"""What an inspection takes from a plan's folder: the mask of one coat, the face, the undercut."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stopout.errors import StopoutError
from stopout.library.plan_folder import plan_json

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.scans.inspecting.piece import Intended

__all__ = ["PlannedPiece", "read_planned_piece"]

_MOST_BYTES = 200_000_000
_PLAN_AGAIN = "plan the job again with stopout plan"
_PATH = re.compile(r'<path d="([^"]*)"')
_NUMBERS = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?,-?\d+(?:\.\d+)?(?:e-?\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPiece:
    """A plan as an inspection needs it; `etch`, `blank` and `job` are plan.json's own parts."""

    folder: Path
    coat: int
    intended: Intended
    width_mm: float
    is_back_worked: bool
    job: dict[str, Any]
    blank: dict[str, Any]
    etch: dict[str, Any] | None


def read_planned_piece(folder: Path, number: int | None) -> PlannedPiece:
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
    data = plan_json(folder)
    if "blank" not in data:
        raise StopoutError(
            f"{folder / 'plan.json'} does not say what the blank is, as plans of earlier versions "
            f"did not; {_PLAN_AGAIN}"
        )
    try:
        return _planned(folder, data, number)
    except StopoutError:
        raise
    except (KeyError, TypeError, ValueError, AttributeError, IndexError):
        raise StopoutError(f"{folder / 'plan.json'} is damaged; {_PLAN_AGAIN}") from None


def _planned(folder: Path, data: dict[str, Any], number: int | None) -> PlannedPiece:
    import shapely

    from stopout.scans.inspecting.piece import Intended

    coat = _coat(folder, data, number)
    blank = data["blank"]
    rings = [shapely.Polygon(ring) for ring in blank["face_mm"]]
    face = rings[0]
    for ring in rings[1:]:
        face = face.symmetric_difference(ring)
    opening = _opening(folder, str(coat["files"]["mask_svg"]), float(blank["height_mm"]))
    return PlannedPiece(
        folder=folder,
        coat=int(coat["coat"]),
        intended=Intended(
            opening=opening,
            face=face,
            undercut_mm=float(data["undercut_mm"]),
            undercut_sd_mm=float(data["undercut_spread_mm"]),
            mark_mm=_mark_mm(coat),
        ),
        width_mm=float(blank["width_mm"]),
        is_back_worked=bool(data["orientation"]["mirrored"]),
        job=dict(data["job"]),
        blank=dict(blank),
        etch=None if data["etch"] is None else dict(data["etch"]),
    )


def _mark_mm(coat: dict[str, Any]) -> float:
    """The smaller axis of the mark; where no beam clears, the narrowest opening."""
    if coat["clearing"] is None:
        return float(coat["mask"]["narrowest_opening_mm"])
    return min(float(axis) for axis in coat["clearing"]["mark_mm"])


def _coat(folder: Path, data: dict[str, Any], number: int | None) -> dict[str, Any]:
    coats: dict[int, dict[str, Any]] = {int(coat["coat"]): coat for coat in data["coats"]}
    listed = ", ".join(map(str, coats))
    if number is None and len(coats) > 1:
        raise StopoutError(f"{folder} clears coats {listed}; say which one with --coat")
    if number is not None and number not in coats:
        raise StopoutError(f"{folder} does not clear coat {number}; it clears {listed}")
    return coats[next(iter(coats)) if number is None else number]


def _opening(folder: Path, name: str, height_mm: float) -> BaseGeometry:
    """The openings of a mask file of ours: one path a part, its outline first, then its holes."""
    import shapely

    path = folder / name
    if Path(name).name != name:
        raise ValueError
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
