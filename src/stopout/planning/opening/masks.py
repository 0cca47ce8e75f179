"""How a drawing is made, and the masks of its patches."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar

from shapely.geometry import MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Job
from stopout.mask import Mask, NarrowLand, as_multipolygon, make_mask, reach_mm, widen_lands
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.margins import needed_land_mm
from stopout.planning.memory import Memory
from stopout.planning.opening.apart import each
from stopout.planning.opening.patches import Patch, patches_of, whole_patch
from stopout.planning.shifting import shifted_each
from stopout.planning.verdict.drawn import field_of
from stopout.values import Measured

_Found = TypeVar("_Found")

# Parts that lie farther apart than what acts between them by this have nothing to do with each
# other; it covers the arithmetic's slacks.
_SPARE_MM = 0.1
# The same for parts that are made as drawn: no more than their arithmetic.
_QUIET_SPARE_MM = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """All that decides how a drawing is made, but for the drawing itself; lengths in mm."""

    undercut_mm: float
    growth_mm: float
    mark_mm: tuple[float, float]
    needed_land_mm: float
    narrowest_land_mm: float
    edge_tolerance_mm: float
    too_thin: Literal["widen", "leave-out", "stop"]
    step_mm: float
    field_mm: float | None
    is_light: bool

    @property
    def reach_mm(self) -> float:
        """Undercut and half the larger mark axis."""
        return reach_mm(self.undercut_mm, self.mark_mm)

    @property
    def apart_mm(self) -> float:
        """Parts that lie farther apart than this have nothing to do with each other."""
        reach, needed = self.reach_mm, max(self.needed_land_mm, self.narrowest_land_mm)
        apart = max(3 * reach, needed + 2 * reach, 3 * needed)
        return apart + 2 * self.edge_tolerance_mm + _SPARE_MM

    @property
    def quiet_apart_mm(self) -> float:
        """Parts that are made as drawn have nothing to do with each other beyond this.

        No land between them is widened, and what their corners are taken farther leaves a land.
        """
        needed = max(self.needed_land_mm, self.narrowest_land_mm)
        return needed + 2 * self.edge_tolerance_mm + _QUIET_SPARE_MM


def making_of(
    job: Job, bite: Bite, mark_mm: tuple[Measured, Measured], *, growth_mm: float, step_mm: float
) -> Making:
    """Return what decides how a job's drawing is made.

    Parameters
    ----------
    job : Job
        For its limits and its polarity.
    bite : Bite
        How the etch goes sideways.
    mark_mm : (Measured, Measured)
        What one place of the beam clears, or the smallest opening that a film makes.
    growth_mm : float
        By how much each edge is opened farther than it is drawn.
    step_mm : float
        Corner work shorter than two of these is left out.
    """
    limits = job.limits
    return Making(
        undercut_mm=bite.undercut.value,
        growth_mm=growth_mm,
        mark_mm=(mark_mm[0].value, mark_mm[1].value),
        needed_land_mm=needed_land_mm(
            limits.narrowest_land_mm, depth_mm=bite.depth_mm, factor=bite.factor
        ),
        narrowest_land_mm=limits.narrowest_land_mm,
        edge_tolerance_mm=limits.edge_tolerance_mm,
        too_thin=limits.too_thin,
        step_mm=step_mm,
        field_mm=field_of(job),
        is_light=job.light is not None,
    )


def patched(target: MultiPolygon, face: BaseGeometry, how: Making) -> list[Patch]:
    """Part a drawing into patches, as far apart as anything acts between them.

    What is to stand out is judged by the field round it, and lines for light leave gaps on
    purpose: both are looked at whole.
    """
    if how.field_mm is not None or how.is_light:
        return [whole_patch(target, face)]
    apart = how.apart_mm
    return patches_of(target, face, apart_mm=apart, whole_mm=apart - 2 * how.reach_mm)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Planned:
    """The target less what its lands take, the mask that makes it, and the narrow lands."""

    wanted: MultiPolygon
    mask: Mask
    lands: tuple[NarrowLand, ...]


def mask_of(patch: Patch, how: Making) -> Planned:
    """Plan the mask of a patch: lands widened where they may be, then the beam centres."""
    wanted, lands = widen_lands(
        patch.target,
        patch.face,
        needed_mm=how.needed_land_mm,
        edge_tolerance_mm=how.edge_tolerance_mm,
        reach_mm=how.reach_mm,
    )
    mask = make_mask(
        wanted,
        undercut_mm=how.undercut_mm + how.growth_mm,
        mark_mm=(how.mark_mm[0] - 2 * how.growth_mm, how.mark_mm[1] - 2 * how.growth_mm),
        too_thin=how.too_thin,
        edge_tolerance_mm=how.edge_tolerance_mm,
        narrowest_land_mm=how.narrowest_land_mm,
        step_mm=how.step_mm,
    )
    return Planned(wanted=wanted, mask=mask, lands=lands)


def masks_of(
    patches: Sequence[Patch],
    how: Making,
    memory: Memory,
    tell: Callable[[str], None] | None = None,
    words: str = "",
) -> list[Planned]:
    """Plan the mask of each patch that is not remembered."""

    def make(missing: list[int]) -> list[Planned]:
        left = [patches[k] for k in missing]
        size = [patch.size for patch in left]
        return each(lambda patch: mask_of(patch, how), left, size=size, tell=tell, words=words)

    return memory.recall_all([("mask", patch.key, how) for patch in patches], make)


def planned_together(own: Sequence[Planned], patches: Sequence[Patch]) -> Planned:
    """Return the masks of all patches as one, in the drawing's frame."""
    planned = laid_out(own, patches)
    if len(planned) == 1:
        return planned[0]
    masks = [one.mask for one in planned]
    return Planned(
        wanted=as_multipolygon([one.wanted for one in planned]),
        mask=Mask(
            centres=as_multipolygon([mask.centres for mask in masks]),
            lines=MultiLineString([line for mask in masks for line in mask.lines.geoms]),
            thin_places=tuple(place for mask in masks for place in mask.thin_places),
        ),
        lands=tuple(land for one in planned for land in one.lands),
    )


def laid_out(own: Sequence[_Found], patches: Sequence[Patch]) -> list[_Found]:
    """Carry what was found of patches, each in its own frame, to where they lie."""
    return shifted_each(own, [patch.corner_mm for patch in patches])
