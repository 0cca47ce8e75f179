"""Findings about what stays between openings: narrow lands, lost bridges, counters, resist."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity

from stopout.etching import EtchPlan
from stopout.job.record import Job
from stopout.mask import Bridge, NarrowLand, dilate, land_across
from stopout.planning.measures.margins import (
    bridge_remedies,
    land_remedies,
    low_factor,
    needed_land_mm,
)
from stopout.planning.measures.wording import point_of, shallower, where
from stopout.planning.plan import CoatPlan
from stopout.values import Finding, Level
from stopout.wording import counted, width_words

# Smaller openings tend to be pinholes, smaller islands to flake off (our own rule, no source).
_SPECK_MM2 = 0.05
# A speck that would have to be drawn this many times larger is no detail but dirt.
_LARGEST_SCALE = 3.0
_TO_EDGE = " to the blank's edge"


def land_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """Findings about the lands of a coat, finished and in the resist."""
    found = _narrow_findings(coat, job, etch)
    found += _bridge_findings(coat, job, etch)
    found += _speck_findings(coat, etch)
    found += _lift_findings(coat, job, etch)
    found += _spread_findings(coat, job)
    return found


def _narrow_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """Say where lands are, or may come out, narrower than the shop accepts."""
    found = _drawn_land_findings(coat, job, etch)
    least, worst, how = job.limits.narrowest_land_mm, coat.finished_land_mm, ""
    if etch is not None:
        factor = etch.etch_factor
        worst = max(0.0, worst - 2 * (etch.depth_mm / low_factor(factor) - etch.undercut_mm))
        if factor.sd > 0:
            how = (
                f" ({coat.finished_land_mm:.3f} mm at the planned etch factor {factor.value:g}, "
                f"the least at {low_factor(factor):.2f})"
            )
    if worst < least - 0.0015 and all(finding.level is Level.NOTE for finding in found):
        found.append(
            Finding.caution(
                "narrow-land",
                f"the narrowest finished land may be {width_words(worst)} wide{how}; "
                f"the shop's limit is {least:.3f} mm",
                _wider_by(coat, job, etch),
                at_mm=coat.narrowest_land_at,
                kind="finished",
                size_mm=worst,
            )
        )
    return found


def _drawn_land_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """Say which lands were drawn too narrow, and what was done about them."""
    widened = [land for land in coat.narrow_lands if land.is_widened]
    found = [
        Finding.caution(
            "narrow-land",
            f"a land {land.width_mm:.3f} mm wide{_TO_EDGE * land.at_edge} "
            f"{where(land.at_mm, job)} may come out narrower than "
            f"{job.limits.narrowest_land_mm:.3f} mm at the worst undercut, "
            f"over {land.length_mm:.2f} mm",
            _farther_apart(land, job, etch),
            at_mm=land.at_mm,
            kind="edge" if land.at_edge else "narrow",
            size_mm=land.width_mm,
            needs_mm=land.needed_mm,
        )
        for land in coat.narrow_lands
        if not land.is_widened
    ]
    if widened:
        thinnest = min(widened, key=lambda land: land.width_mm)
        limit = job.limits.narrowest_land_mm
        # Strokes beside that are too thin take back what their edges gave.
        kept = (
            f", so that they keep {limit:.3f} mm at the worst undercut"
            if coat.finished_land_mm >= limit - 0.0015
            else ""
        )
        found.append(
            Finding.note(
                "narrow-land",
                f"{counted(len(widened), 'land is', 'lands are')} widened within the edge "
                f"tolerance{kept}. The "
                f"narrowest, drawn {thinnest.width_mm:.3f} mm wide, is "
                f"{where(thinnest.at_mm, job)}",
                at_mm=thinnest.at_mm,
            )
        )
    return found


def _farther_apart(land: NarrowLand, job: Job, etch: EtchPlan | None) -> str:
    """Say what would save a land: nothing widens one at the blank's edge but to move its shape."""
    if land.at_edge:
        return f"Keep the artwork {land.needed_mm:.2f} mm or more from the blank's edge."
    return f"Draw it {land.needed_mm:.2f} mm wide or more. " + land_remedies(
        land.width_mm,
        narrowest_land_mm=job.limits.narrowest_land_mm,
        depth_mm=etch.depth_mm if etch is not None else 0.0,
        factor=etch.etch_factor if etch is not None else None,
    )


def _wider_by(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> str:
    """Say what would widen the narrowest finished land, with numbers where it has two edges."""
    plain = (
        "Widen the gap drawn, or use a finer mark."
        if job.etch is None
        else f"Widen the gap drawn,{shallower(job)} or measure the etch factor."
    )
    if coat.narrowest_land_at is None:
        return plain
    land = land_across(
        coat.narrowest_land_at,
        coat.target,
        coat.opening,
        undercut_mm=etch.undercut_mm if etch is not None else 0.0,
        longest_mm=2 * job.limits.narrowest_land_mm + 4 * coat.reach_mm,
    )
    return plain if land is None else _kept_by(land, coat, job, etch)


def _bridge_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """One finding for each bridge of land that goes, and for each counter that closes."""
    found = []
    for bridge in coat.bridges:
        between = (
            "the beam itself clears it"
            if bridge.resist_mm == 0
            else f"{bridge.resist_mm:.3f} mm of resist stands on it, and the etch meets under that"
        )
        found.append(
            Finding.caution(
                "parts-merged",
                f"a land {bridge.drawn_mm:.3f} mm wide between two openings "
                f"{where(bridge.at_mm, job)} goes: {between}",
                _kept_by(bridge, coat, job, etch),
                at_mm=bridge.at_mm,
                kind="bridge",
                size_mm=bridge.drawn_mm,
                needs_mm=_needed_of(bridge, job, etch),
            )
        )
    for counter in coat.counters:
        found.append(
            Finding.caution(
                "counter-closed",
                f"a counter {counter.drawn_mm:.3f} mm wide closes {where(counter.at_mm, job)}",
                _kept_by(counter, coat, job, etch),
                at_mm=counter.at_mm,
                kind="counter",
                size_mm=counter.drawn_mm,
                needs_mm=_needed_of(counter, job, etch),
            )
        )
    if coat.outcome.merged and not found:
        found.append(
            Finding.caution(
                "parts-merged",
                f"{counted(coat.outcome.merged, 'gap')} between parts of the artwork would close",
                f"Widen the gaps,{shallower(job)} or draw the thin strokes thicker.",
                at_mm=point_of(coat.outcome.merged_parts),
            )
        )
    return found


def _needed_of(bridge: Bridge, job: Job, etch: EtchPlan | None) -> float:
    """Return the drawn width at which a lost bridge keeps the shop's limit."""
    needed = needed_land_mm(
        job.limits.narrowest_land_mm,
        depth_mm=etch.depth_mm if etch is not None else 0.0,
        factor=etch.etch_factor if etch is not None else None,
    )
    return needed + sum(max(0.0, side) for side in bridge.over_mm)


def _kept_by(bridge: Bridge, coat: CoatPlan, job: Job, etch: EtchPlan | None) -> str:
    return bridge_remedies(
        bridge.drawn_mm,
        bridge.over_mm,
        resist_mm=bridge.resist_mm,
        narrowest_land_mm=job.limits.narrowest_land_mm,
        depth_mm=etch.depth_mm if etch is not None else 0.0,
        factor=etch.etch_factor if etch is not None else None,
        mark_mm=max(axis.value for axis in coat.mark_mm),
    )


def _speck_findings(coat: CoatPlan, etch: EtchPlan | None) -> list[Finding]:
    """Say which openings and islands of resist are too small to be depended on."""
    found = []
    parts = shapely.get_parts(coat.opening)
    for code, what, shapes in (
        ("small-opening", ("opening in the resist is", "openings in the resist are"), parts),
        ("small-island", ("island of resist is", "islands of resist are"), _islands(parts)),
    ):
        area = shapely.area(shapes)
        small, area = shapes[area < _SPECK_MM2], area[area < _SPECK_MM2]
        if not len(small):
            continue
        smallest = int(np.argmin(area))
        scale = (
            math.sqrt(_SPECK_MM2 / area[smallest])
            if code == "small-opening"
            else _island_scale(small[smallest], coat, etch)
        )
        larger = (
            f"draw the smallest at least {math.ceil(100 * scale)} % of its size"
            if scale < 0.99 * _LARGEST_SCALE
            else "draw the detail larger"
        )
        found.append(
            Finding.note(
                code,
                f"{counted(len(small), *what)} smaller than {_SPECK_MM2:g} mm^2 (our own "
                f"rule, no source) and may fail; the smallest has {area[smallest]:.4f} mm^2",
                f"Clean specks from the artwork, or {larger}.",
                at_mm=point_of(small[smallest]),
            )
        )
    return found


def _islands(parts: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return the resist that stands inside openings, less the openings inside it."""
    rings = [ring for part in parts for ring in part.interiors]
    if not rings:
        return parts[:0]
    islands: NDArray[np.object_] = np.array(shapely.polygons(rings), dtype=object)
    # Larger ones are not asked about, and need not be cut.
    islands = islands[shapely.area(islands) < 4 * _SPECK_MM2]
    which, inner = shapely.STRtree(parts).query(islands, predicate="contains")
    for k in np.unique(which):
        islands[k] = shapely.difference(islands[k], shapely.union_all(parts[inner[which == k]]))
    return islands


def _island_scale(island: shapely.Polygon, coat: CoatPlan, etch: EtchPlan | None) -> float:
    """Return how many times larger an island must be drawn to reach the area limit.

    Its resist is the drawn island grown by an inset, at most the undercut, that does not grow
    with it. (An opening grows at least as its square: less of it is lost at the edges.)
    """
    drawn = shapely.difference(island, coat.target)
    if drawn.is_empty:
        return _LARGEST_SCALE
    undercut = etch.undercut_mm if etch is not None else 0.0
    inset = min(max(0.0, (island.area - drawn.area) / drawn.length), undercut)
    low, high = 1.0, _LARGEST_SCALE
    for _ in range(16):
        middle = (low + high) / 2
        larger = dilate(affinity.scale(drawn, middle, middle), inset)
        low, high = (low, middle) if larger.area >= _SPECK_MM2 else (middle, high)
    return high


def _lift_findings(coat: CoatPlan, job: Job, etch: EtchPlan | None) -> list[Finding]:
    """Say where a land of resist is too narrow to hold on.

    Common practice, no source: a land must be as wide as the etch is deep where it is left.
    """
    if etch is None:
        return []
    width, holds = coat.mask.narrowest_land_mm, 2 * etch.undercut_mm + etch.depth_mm
    if not 0 < width < holds or not _keeps_land(coat):
        return []
    at = coat.mask.narrowest_land_at
    foot = max(0.0, width - 2 * etch.undercut_mm)
    if foot == 0 and not (coat.outcome.merged or coat.counters):
        # No land is lost: this resist stands within a stroke, where the etch is meant to meet.
        return []
    depth = math.floor(1000 * foot + 1e-6) / 1000
    shallow = f", or etch at most {depth:.3f} mm deep" if 3 * depth >= etch.depth_mm else ""
    which = f"the narrowest land of resist, {width:.3f} mm wide {where(at, job)}, is undercut"
    return [
        Finding(
            code="resist-lifts",
            level=Level.NOTE if depth > 0 else Level.CAUTION,
            message=(
                f"{which} so far that it stands on {foot:.3f} mm and may lift: less than the "
                "etch is deep (common practice, no source)"
                if depth > 0
                else f"{which} from both sides until nothing carries it: that land is etched "
                "away, and the loose resist may float off and take more with it"
            ),
            remedy=f"Draw the land at least {etch.depth_mm:.3f} mm wide{shallow}.",
            at_mm=at,
        )
    ]


def _spread_findings(coat: CoatPlan, job: Job) -> list[Finding]:
    """Say where what is known of mark and etch leaves open whether the thinnest place survives."""
    found = []
    for name, margin in (("stroke", coat.stroke), ("land", coat.land)):
        if margin.sd_mm > 0 and margin.width_mm > 0 and not margin.survives:
            found.append(
                Finding.caution(
                    "may-not-survive",
                    f"the thinnest {name}, planned to be finished {margin.width_mm:.3f} mm "
                    f"wide, is known to {margin.sd_mm:.3f} mm (one standard deviation): it may "
                    "not come out at all",
                    f"Measure {'the mark' if job.etch is None else 'mark and etch factor'} on "
                    "a coupon, or draw it wider.",
                    at_mm=coat.narrowest_land_at if name == "land" else None,
                )
            )
    return found


def _keeps_land(coat: CoatPlan) -> bool:
    """Tell whether the narrowest resist stands for a finished land, not between one stroke's
    own openings, which the etch is meant to join."""
    return coat.finished_land_mm < coat.mask.narrowest_land_mm
