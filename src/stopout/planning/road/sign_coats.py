"""The coats of a sign: what each shows, what is cleared of it, and how it is opened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Coat, Job
from stopout.planning.findings.kinds import motion_findings
from stopout.planning.measures.beam import beam_for
from stopout.planning.measures.placing import as_worked_on, place_of_blank
from stopout.planning.memory import Memory, digest_of
from stopout.planning.opening.coat import CoatAsked, plan_coat
from stopout.planning.plan import CoatPlan
from stopout.planning.road.front import bleed_mm, mark_crosses
from stopout.planning.signs.bleed import overrun, without_slivers
from stopout.planning.signs.claims import Claims, claims_of
from stopout.planning.signs.grid import off_grid, on_grid, union
from stopout.planning.signs.layers import Layers, plan_layers, stack_passes
from stopout.values import Drawing


def claims_on(job: Job, drawing: Drawing, face: BaseGeometry, memory: Memory) -> Claims:
    """Return what each coat shows, as seen.

    Parameters
    ----------
    job : Job
        Its coats say what they show.
    drawing : Drawing
        The artwork on the blank, as seen.
    face : BaseGeometry
        The blank's face, as seen.
    memory : Memory
        What was found of earlier drawings.
    """
    regions = digest_of(face, drawing.dark, *(shape.region for shape in drawing.shapes))
    named = tuple((shape.fill, shape.ident, shape.classes) for shape in drawing.shapes)
    return memory.recall(
        ("claims", regions, named, tuple(coat.shows for coat in job.coats)),
        lambda: claims_of(job.coats, drawing, face, memory),
    )


def cleared_on(
    job: Job, shown: Sequence[BaseGeometry], face: BaseGeometry, memory: Memory
) -> tuple[Layers, list[MultiPolygon | None]]:
    """Return how the coats are cleared, and what is cleared of each, as worked.

    Parameters
    ----------
    job : Job
        For its registration.
    shown : sequence of BaseGeometry
        What each coat shows, as seen.
    face : BaseGeometry
        The blank's face, as worked.
    memory : Memory
        What was found of earlier drawings.
    """
    shown = memory.recall(
        ("shown", digest_of(*shown), job.blank.width_mm, job.blank.is_back_worked),
        lambda: [on_grid(as_worked_on(region, job)) for region in shown],
    )
    # A mask is laid for one coat: nothing is cut through several.
    method = job.registration.method if job.route.has_beam else "one-by-one"
    error, edge = job.registration.error_mm, job.limits.edge_tolerance_mm
    layers = memory.recall(
        ("layers", digest_of(face, *shown), method, error, edge),
        lambda: plan_layers(
            shown, face=face, method=method, error_mm=error, edge_mm=edge, memory=memory
        ),
    )
    mark = 0.0
    if job.route.has_beam:
        mark = max(axis.value for axis in beam_for(job.coats[0], job).mark_mm)
    crosses = mark_crosses(job, face, mark_mm=mark)
    cleared = [
        union([region, crosses]) if region is not None and number == 0 else region
        for number, region in enumerate(layers.cleared)
    ]
    return layers, [None if region is None else off_grid(region) for region in cleared]


def stacked(number: int, layers: Layers, job: Job) -> Coat:
    """Return a coat, with the passes that go through all before it where the method asks for it."""
    coat = job.coats[number - 1]
    if layers.method != "through" or number == 1:
        return coat
    return replace(coat, passes=stack_passes(job.coats, number, job))


def plan_past_the_edge(asked: CoatAsked, target: MultiPolygon) -> CoatPlan:
    """Open past the sheet's edge; by a beam where clamps and bed allow it, else up to the edge."""
    job = asked.job
    wider = asked.memory.recall(
        ("past the edge", digest_of(target, asked.face), bleed_mm(job)),
        lambda: _widened(target, asked.face, bleed_mm(job)),
    )
    if wider is None:
        return plan_coat(asked, target)
    corner = place_of_blank(job)
    past = plan_coat(asked, wider)
    if not job.route.has_beam or not motion_findings(past, job, corner):
        return past
    plain = plan_coat(asked, target)
    return past if motion_findings(plain, job, corner) else plain


def _widened(target: MultiPolygon, face: BaseGeometry, by_mm: float) -> MultiPolygon | None:
    """Return a target with what is cleared outside the sheet; None where it reaches no edge."""
    more = overrun(target, face, by_mm)
    return None if more.is_empty else off_grid(without_slivers(union([target, more])))
