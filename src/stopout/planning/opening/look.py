"""What is to be seen of a patch: the piece that an opening makes of it, and its measures."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from itertools import chain
from typing import Any

import numpy as np
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.mask import (
    Bridge,
    LocalWidths,
    Narrowest,
    as_multipolygon,
    cleared_by,
    count_holes,
    local_widths,
    lost_bridges,
    lost_counters,
    narrowest_of,
    parts_of,
)
from stopout.outcome import Change, Outcome, advance, judge, together
from stopout.planning.measures.measuring import land_left, stays_of
from stopout.planning.memory import Memory, digest_of
from stopout.planning.opening.apart import each, vertices_of
from stopout.planning.opening.masks import Making, Planned, laid_out
from stopout.planning.opening.patches import Patch
from stopout.planning.plan import CoatPlan, MaskNumbers
from stopout.planning.verdict.drawn import changes_of

# What is narrower than a known width is so by more than this.
_LESS_MM = 1e-6
# A width of lands to begin a search with.
_LAND_START_MM = 0.05


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
