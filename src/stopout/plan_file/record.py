"""What of plan.json is read again, by the names of its keys.

`writing` makes the file; whatever a later step takes from it stands here, once, with its type. A
test reads every plan that is written by these records, so that a key cannot change on one side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from stopout.errors import StopoutError
from stopout.values import Machine


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedJob:
    """Which job it was."""

    name: str
    revision: str
    quantity: int
    spares: int
    job_sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrientationRecord:
    """Which side is worked, and whether that mirrors the artwork."""

    worked_side: str
    mirrored: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankRecord:
    """The blank; `face_mm` are the rings of its face as worked, even-odd."""

    material: str
    finish: str
    width_mm: float
    height_mm: float
    thickness_mm: float
    agitation: str | None
    face_mm: tuple[tuple[tuple[float, float], ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MaskRecord:
    """A coat's openings."""

    openings: int
    area_mm2: float
    narrowest_opening_mm: float
    narrowest_land_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearingRecord:
    """How a coat is cleared."""

    mark_mm: tuple[float, float]
    power_fraction: float
    speed_mm_s: float
    dose_ratio_max: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FilesRecord:
    """A coat's files; no program where the plan says stop, or no beam clears; none of a draft."""

    mask_svg: str | None
    mask_png: str | None
    program: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoatRecord:
    """One coat; `coat` is its number."""

    coat: int
    mask: MaskRecord
    clearing: ClearingRecord | None
    files: FilesRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingRecord:
    """What the plan had to say."""

    code: str
    level: Literal["stop", "caution", "note"]
    message: str
    remedy: str
    at_mm: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedPieceRecord:
    """A piece of a series, where it lies, and what clears it."""

    number: str
    panel: int
    at_mm: tuple[float, float]
    size_mm: tuple[float, float]
    program: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRecord:
    """A plan as its folder keeps it; `machine` and `blank_at_mm` are None where no beam clears.

    `etch` is plan.json's own part, None where nothing is etched or the bath is refused.
    """

    format: str
    job: PlannedJob
    orientation: OrientationRecord
    method: str
    blank: BlankRecord
    undercut_mm: float
    undercut_spread_mm: float
    coats: tuple[CoatRecord, ...]
    etch: dict[str, Any] | None
    findings: tuple[FindingRecord, ...]
    blank_at_mm: tuple[float, float] | None
    machine: Machine | None
    draft: bool = False
    pieces: tuple[PlacedPieceRecord, ...] = ()

    def coat(self, number: int | None, *, folder: object) -> CoatRecord:
        """Return the coat that is asked for, or the only one there is.

        Parameters
        ----------
        number : int or None
            Counted from the viewer's side, from 1.
        folder : object
            The plan's folder, for the errors.

        Raises
        ------
        StopoutError
            If it is not there, or several are and none is named.
        """
        coats = {coat.coat: coat for coat in self.coats}
        listed = ", ".join(map(str, coats))
        if number is None and len(coats) > 1:
            raise StopoutError(f"{folder} clears coats {listed}; say which one with --coat")
        if number is not None and number not in coats:
            raise StopoutError(f"{folder} does not clear coat {number}; it clears {listed}")
        if not coats:
            raise StopoutError(f"{folder} clears nothing, for its plan says stop")
        return coats[next(iter(coats)) if number is None else number]
