"""What is to be seen of a patch: its mask, the piece that an opening makes, and their measures."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from itertools import chain
from typing import Any, Literal, TypeVar

import numpy as np
from shapely.geometry import MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Job
from stopout.mask import (
    Bridge,
    LocalWidths,
    Mask,
    Narrowest,
    NarrowLand,
    as_multipolygon,
    cleared_by,
    count_holes,
    local_widths,
    lost_bridges,
    lost_counters,
    make_mask,
    narrowest_of,
    parts_of,
    reach_mm,
    widen_lands,
)
from stopout.outcome import Change, Outcome, advance, judge, together
from stopout.planning.measures.bite import Bite
from stopout.planning.measures.margins import needed_land_mm
from stopout.planning.measures.measuring import land_left, stays_of
from stopout.planning.memory import Memory, digest_of
from stopout.planning.opening.apart import each, vertices_of
from stopout.planning.opening.patches import Patch, patches_of, whole_patch
from stopout.planning.plan import CoatPlan, MaskNumbers
from stopout.planning.shifting import shifted_each
from stopout.planning.verdict.drawn import changes_of, field_of
from stopout.values import Measured

_Found = TypeVar("_Found")

# Parts that lie farther apart than what acts between them by this have nothing to do with each
# other; it covers the arithmetic's slacks.
_SPARE_MM = 0.1
# The same for parts that are made as drawn: no more than their arithmetic.
_QUIET_SPARE_MM = 0.01
# What is narrower than a known width is so by more than this.
_LESS_MM = 1e-6
# A width of lands to begin a search with.
_LAND_START_MM = 0.05


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """What an opening makes of a patch, in its own frame; `resist` and `land` are what stays under
    resist, and at all.
    """

    opening: MultiPolygon
    finished: MultiPolygon
    resist: MultiPolygon
    land: MultiPolygon
    outcome: Outcome
    changes: tuple[Change, ...]
    bridges: tuple[Bridge, ...]
    counters: tuple[Bridge, ...]


def look_at(patch: Patch, opening: MultiPolygon, how: Making) -> Look:
    """Let the etch advance from an opening, and hold the piece against a patch."""
    finished = advance(opening, how.undercut_mm)
    resist = land = stays_of(patch.face, opening)
    if how.undercut_mm > 0:
        land = stays_of(patch.face, finished)
    reach, target, undercut = how.reach_mm, patch.target, how.undercut_mm
    outcome = judge(
        target=target, finished=finished, reach_mm=reach, edge_tolerance_mm=how.edge_tolerance_mm
    )
    return Look(
        opening=opening,
        finished=finished,
        resist=resist,
        land=land,
        outcome=outcome,
        changes=changes_of(
            target=target,
            finished=finished,
            face=patch.face,
            reach_mm=reach,
            edge_tolerance_mm=how.edge_tolerance_mm,
            field_mm=how.field_mm,
        ),
        bridges=lost_bridges(
            target,
            opening,
            finished,
            outcome.too_much,
            land=lambda: local_widths(target, patch.face)[1],
            n_filled=len(outcome.filled_holes.geoms),
            undercut_mm=undercut,
        ),
        counters=lost_counters(outcome.filled_holes, opening, undercut_mm=undercut),
    )


def are_remembered(patches: Sequence[Patch], how: Making, memory: Memory) -> bool:
    """Tell whether what is to be seen of all patches is known already."""
    return all(memory.knows(("look", patch.key, how)) for patch in patches)


def foreseen(
    patches: Sequence[Patch], planned: Sequence[Planned], how: Making, memory: Memory
) -> tuple[list[Look], tuple[LocalWidths, LocalWidths]]:
    """Look at each patch as its mask opens it, without a program; and measure its local widths.

    Of the lands those are measured that a patch shows as they are. The looks are in their patches'
    own frames, the widths in the drawing's.
    """

    def seen(k: int) -> tuple[Look, tuple[LocalWidths, LocalWidths]]:
        patch = patches[k]
        look = look_at(patch, cleared_by(planned[k].mask, how.mark_mm), how)
        return look, local_widths(patch.target, patch.face)

    found = memory.recall_all(
        [("look", patch.key, how) for patch in patches],
        lambda missing: each(seen, missing, size=[patches[k].size for k in missing]),
    )
    places = laid_out([widths for _, widths in found], patches)
    widths = narrow_widths(places, patches[0].whole_mm)
    return [look for look, _ in found], widths


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrow:
    """How narrow the strokes as drawn, openings, resist and lands of another drawing are, in mm.

    What lies on one panel with it needs measuring where it is narrower still, and nowhere else.
    """

    stroke_mm: float
    opening_mm: float
    resist_mm: float
    land_mm: float

    @classmethod
    def of(cls, coat: CoatPlan) -> Narrow:
        """Return what was measured of a planned coat."""
        return cls(
            stroke_mm=coat.stroke_mm,
            opening_mm=coat.mask.narrowest_opening_mm,
            resist_mm=coat.mask.narrowest_land_mm,
            land_mm=coat.finished_land_mm,
        )

    @classmethod
    def each(cls, choose: Callable[..., float], some: Sequence[Narrow]) -> Narrow:
        """Return of each width the one of some drawings that is chosen: the least, or the most."""
        names = [part.name for part in fields(cls)]
        return cls(**{name: choose(getattr(one, name) for one in some) for name in names})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WholeLook:
    """What is to be seen of a whole drawing, and its measures.

    `stroke_mm` is the narrowest stroke as drawn, `land` the narrowest land of the finished piece.
    """

    opening: MultiPolygon
    finished: MultiPolygon
    outcome: Outcome
    changes: tuple[Change, ...]
    bridges: tuple[Bridge, ...]
    counters: tuple[Bridge, ...]
    numbers: MaskNumbers
    land: Narrowest
    stroke_mm: float


def seen_together(
    looks: Sequence[Look],
    patches: Sequence[Patch],
    face: BaseGeometry,
    how: Making,
    memory: Memory,
    beside: Narrow | None = None,
) -> WholeLook:
    """Return what is to be seen of all patches, and their narrowest places.

    Parameters
    ----------
    looks, patches : sequence of Look, of Patch
        The patches, and what was seen of each in its own frame.
    face : BaseGeometry
        The blank's face: a land wider than the patches are apart is measured on all of it.
    how : Making
        How the drawing is made.
    memory : Memory
        What was found of patches before; it must be one that forgets where the openings are not
        those of the masks.
    beside : Narrow, optional
        Of a drawing on the same panel: what is no narrower gets its widths, without a place.
    """
    names = ("opening", "finished", "outcome", "changes", "bridges", "counters")
    seen = [tuple(getattr(look, name) for name in names) for look in looks]
    openings, made, outcomes, changes, bridges, counters = zip(
        *laid_out(seen, patches), strict=True
    )
    opening, finished = as_multipolygon(openings), as_multipolygon(made)
    smallest = min(how.mark_mm)
    ask = partial(_narrowest, patches=patches, how=how, memory=memory)
    start, whole = max(2 * smallest, _LAND_START_MM), patches[0].whole_mm
    no = beside or Narrow(stroke_mm=0.0, opening_mm=0.0, resist_mm=0.0, land_mm=0.0)
    asked = [
        partial(ask, "stroke", [patch.target for patch in patches], 2 * how.reach_mm, no.stroke_mm),
        partial(ask, "opening", [look.opening for look in looks], 0.98 * smallest, no.opening_mm),
        partial(ask, "resist", [look.resist for look in looks], start, no.resist_mm, whole),
    ]
    if how.undercut_mm > 0:
        lands = [look.land for look in looks]
        asked.append(partial(ask, "land", lands, start, no.land_mm, whole))
    # What is found is lost with the process that finds it: only where nothing is remembered.
    size = [] if memory.remembers else [vertices_of(*search.args[1]) for search in asked]
    stroke, narrow, resist, land = [*each(lambda search: search(), asked, size=size), None][:4]
    # Without an etch the piece is what was opened: its lands are measured once.
    is_etched = how.undercut_mm > 0
    lacking = [opening] * (resist is None) + [finished] * (land is None and is_etched)
    size = [] if memory.remembers else [vertices_of(removed) for removed in lacking]
    # No patch has a land narrower than they are apart: the search need not begin below that.
    wide = whole if np.isfinite(whole) else start
    left = each(lambda removed: _land_left(face, removed, wide, memory), lacking, size=size)
    resist = resist or left[0]
    land = (land or left[-1]) if is_etched else resist
    parts = parts_of(opening)
    return WholeLook(
        opening=opening,
        finished=finished,
        outcome=together(outcomes),
        changes=_renumbered(changes, patches),
        bridges=tuple(sorted(chain(*bridges), key=lambda bridge: bridge.drawn_mm)),
        counters=tuple(chain(*counters)),
        numbers=MaskNumbers(
            openings=len(parts),
            holes=count_holes(parts),
            area_mm2=float(opening.area),
            edge_mm=float(opening.length),
            narrowest_opening_mm=0.0 if narrow is None else narrow.width_mm,
            narrowest_land_mm=resist.width_mm,
            narrowest_land_at=resist.at_mm,
        ),
        land=land,
        stroke_mm=0.0 if stroke is None else stroke.width_mm,
    )


def _land_left(
    face: BaseGeometry, removed: BaseGeometry, start_mm: float, memory: Memory
) -> Narrowest:
    key = ("land left", digest_of(face, removed), start_mm)
    return memory.recall(key, lambda: land_left(face, removed, start_mm))


def _narrowest(
    kind: str,
    regions: Sequence[BaseGeometry],
    start_mm: float,
    known_mm: float,
    most_mm: float = math.inf,
    *,
    patches: Sequence[Patch],
    how: Making,
    memory: Memory,
) -> Narrowest | None:
    """Measure the narrowest place of all patches' strokes, openings or lands.

    Where a width is known already (above 0), only narrower places are looked for.
    """
    is_known = 0 < known_mm < most_mm

    def recall(
        asked: Sequence[tuple[int, Hashable]], make: Callable[[Sequence[int]], Sequence[Any]]
    ) -> Sequence[Any]:
        if not memory.remembers:
            # Openings that are not those of the masks are no patch's own.
            return make(range(len(asked)))
        return memory.recall_all([(kind, *what, patches[k].key, how) for k, *what in asked], make)

    found = narrowest_of(
        regions,
        start_mm=start_mm,
        most_mm=known_mm - _LESS_MM if is_known else most_mm,
        leave_out_points=kind == "stroke",
        corners_mm=np.array([patch.corner_mm for patch in patches]),
        recall=recall,
    )
    if found is None and is_known:
        return Narrowest(width_mm=known_mm, at_mm=None)
    return found


def _renumbered(
    changes: Sequence[tuple[Change, ...]], patches: Sequence[Patch]
) -> tuple[Change, ...]:
    """Number the parts that changed as the drawing's, in their order; of several the first."""
    found = []
    for own, patch in zip(changes, patches, strict=True):
        for change in own:
            first, *others = sorted(patch.part[[change.part, *change.others]].tolist())
            found.append(replace(change, part=first, others=tuple(others)))
    return tuple(sorted(found, key=lambda change: change.part))


def narrow_widths(
    widths: Sequence[tuple[LocalWidths, LocalWidths]], whole_mm: float
) -> tuple[LocalWidths, LocalWidths]:
    """Gather the local widths of patches: all strokes, and the lands that patches show as they are.

    Parameters
    ----------
    widths : sequence of (LocalWidths, LocalWidths)
        Of each patch: those of its target, and of the land round it.
    whole_mm : float
        See `Patch`.
    """
    strokes, lands = ([pair[k] for pair in widths] for k in (0, 1))
    return _gathered(strokes, np.inf), _gathered(lands, whole_mm)


def _gathered(widths: Sequence[LocalWidths], under_mm: float) -> LocalWidths:
    kept = [(one, one.width_mm < under_mm) for one in widths]
    names = [part.name for part in fields(LocalWidths)]
    return LocalWidths(
        **{name: np.concatenate([getattr(one, name)[k] for one, k in kept]) for name in names}
    )
