"""The proof of a sign: what its reader will see, from the programs, and what a miss shows."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import shapely
from shapely.geometry import MultiPolygon, box
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Coat, Job
from stopout.planning.measures.lettering import beside_codes
from stopout.planning.measures.placing import as_worked_on, placed_as_worked
from stopout.planning.memory import Memory, digest_of, digest_of_picture
from stopout.planning.plan import CoatPlan
from stopout.planning.signs.bleed import edge_sliver_mm
from stopout.planning.signs.code_contrast import code_contrast_findings
from stopout.planning.signs.compare import Comparison, compare_front
from stopout.planning.signs.contrast import contrast_findings
from stopout.planning.signs.front import Front
from stopout.planning.signs.grid import intersection, on_grid
from stopout.planning.signs.layers import Layers
from stopout.planning.signs.order import best_order, order_findings
from stopout.planning.signs.proof import SeenFront, seen_of
from stopout.planning.signs.tints import tint_of
from stopout.planning.signs.verdicts import colour_findings, unseen_findings
from stopout.values import ColourPicture, Drawing, Finding

# Below this share of the face in the right colour the plan says so.
_AGREEMENT = 0.999
# A sliver narrower than this is not told: the proof's own edges are no better.
_TOLD_MM = 0.02
# A cross to find the sheet's place by: long enough for a loupe, its arms as wide as two marks.
_CROSS_MM = 3.0
_ARM_MM = 0.2


def bleed_mm(job: Job) -> float:
    """Return how far what reaches the sheet's edge is cleared past it.

    The larger of what the sheet and what two clearings may lie off, and what an edge may err.
    """
    off = max(job.registration.placing_mm, job.registration.error_mm or 0.0)
    return off + job.limits.edge_tolerance_mm if off > 0 else 0.0


def coat_tints(job: Job, front: Front | None) -> tuple[str, ...]:
    """Return the tint of each coat of a sign as its reader sees it, for pictures.

    That of its name; else the artwork's own colour; a window to light is "clear".
    """
    seen = front.compared.tints if front is not None and front.compared is not None else ()
    tints = []
    for k, coat in enumerate(job.coats):
        shown = coat.shows.value if coat.shows is not None and coat.shows.kind == "fill" else ""
        own = (seen[k] if k < len(seen) else None) or tint_of(coat.colour) or shown
        tints.append("clear" if coat.is_window else own or coat.colour)
    return tuple(tints)


def mark_crosses(job: Job, face: BaseGeometry, *, mark_mm: float) -> BaseGeometry:
    """Return the crosses to find the sheet's place by, as worked; empty where none is asked for.

    Parameters
    ----------
    job : Job
        Names their places, as seen.
    face : BaseGeometry
        The blank's face as worked: what lies outside is left out.
    mark_mm : float
        The larger axis of the mark: no arm is narrower than two of them.
    """
    half, arm = _CROSS_MM / 2, max(_ARM_MM, 2 * mark_mm) / 2
    crosses = []
    for x, y in job.registration.marks_mm:
        if job.blank.is_back_worked:
            x = job.blank.width_mm - x
        crosses += [
            box(x - half, y - arm, x + half, y + arm),
            box(x - arm, y - half, x + arm, y + half),
        ]
    return shapely.union_all(crosses).intersection(face) if crosses else MultiPolygon()


def prove_front(
    job: Job,
    layers: Layers,
    coats: Sequence[CoatPlan],
    face: BaseGeometry,
    picture: ColourPicture | None = None,
    is_diffuser: Sequence[bool] = (),
    *,
    memory: Memory,
) -> Front:
    """Lay the coats on each other as the programs clear them, and look from the front.

    Parameters
    ----------
    job : Job
        For the registration.
    layers : Layers
        What is to be seen and how the coats are cleared, as worked.
    coats : sequence of CoatPlan
        The cleared coats, with what their programs clear.
    face : BaseGeometry
        The blank's face as worked.
    picture : ColourPicture, optional
        The artwork's own colours, as seen.
    is_diffuser : sequence of bool
        Which coats are diffusers; left out: none is.
    memory : Memory
        What was found of earlier fronts.
    """
    cleared: list[BaseGeometry | None] = [None] * len(layers.shown)
    for coat in coats:
        cleared[coat.number - 1] = coat.finished
    judged = _judged(job, coats, face)
    error, edge = job.registration.error_mm, job.limits.edge_tolerance_mm
    # All that the front hangs on.
    what = (digest_of(judged, *layers.shown, *cleared), layers.method, error, edge)
    seen = memory.recall(
        ("front", *what),
        lambda: seen_of(
            layers.shown,
            cleared,
            judged,
            method=layers.method,
            error_mm=error,
            edge_mm=edge,
            memory=memory,
        ),
    )
    behind = [*is_diffuser, *[False] * (len(job.coats) - len(is_diffuser))]
    is_last = tuple(coat.is_window or behind[k] for k, coat in enumerate(job.coats))
    now_s = sum(coat.clearing.times.time_s for coat in coats if coat.clearing is not None)
    return Front(
        method=layers.method,
        reason=layers.reason,
        views=seen.views,
        moved_views=seen.moved_views,
        agreement=seen.agreement,
        slip=seen.slip,
        n_clearings=len(coats),
        compared=_compared(job, seen, judged, picture, what, memory),
        bleed_mm=bleed_mm(job),
        edge_sliver=_edge_sliver(job, layers, coats, judged, memory),
        order=memory.recall(
            ("order", *what, is_last, now_s),
            lambda: best_order(
                job.coats,
                seen.shown,
                face=judged,
                is_last=is_last,
                now_s=now_s,
                now_sliver_mm=None if seen.slip is None else seen.slip.width_mm,
                error_mm=error,
                edge_mm=edge,
            ),
        ),
    )


def _judged(job: Job, coats: Sequence[CoatPlan], face: BaseGeometry) -> BaseGeometry:
    """Return the face but for what is hidden: crosses lie under what they are put under."""
    widest = max((axis.value for coat in coats for axis in coat.mark_mm), default=0.1)
    hidden = mark_crosses(job, face, mark_mm=widest).buffer(2 * widest)
    return on_grid(face.difference(hidden) if not hidden.is_empty else face)


def _compared(
    job: Job,
    seen: SeenFront,
    judged: BaseGeometry,
    picture: ColourPicture | None,
    what: tuple[Hashable, ...],
    memory: Memory,
) -> Comparison | None:
    """Hold the front against the artwork's own colours, where they are known."""
    if picture is None:
        return None
    colours = tuple((coat.colour, coat.shows, coat.recolour) for coat in job.coats)
    return memory.recall(
        ("compared", *what, _turned(job), colours, digest_of_picture(picture)),
        lambda: compare_front(
            picture,
            [as_worked_on(view, job) for view in seen.views],
            job.coats,
            as_worked_on(judged, job),
        ),
    )


def _turned(job: Job) -> tuple[Hashable, ...]:
    """What decides how a region as worked lies as seen."""
    return job.blank.is_back_worked, job.blank.width_mm


def _edge_sliver(
    job: Job, layers: Layers, coats: Sequence[CoatPlan], face: BaseGeometry, memory: Memory
) -> tuple[float, tuple[float, float] | None]:
    """Return the widest line of paint along the sheet's edge when the sheet lies off, and where."""
    placing = job.registration.placing_mm

    def along_the_edge(
        wanted: BaseGeometry, finished: BaseGeometry
    ) -> tuple[float, tuple[float, float] | None]:
        key = ("edge sliver", digest_of(wanted, finished, face), placing)
        return memory.recall(
            key,
            lambda: edge_sliver_mm(intersection(wanted, face), finished, face, placing_mm=placing),
        )

    found: list[tuple[float, tuple[float, float] | None]] = [(0.0, None)]
    for coat in coats:
        wanted = layers.cleared[coat.number - 1]
        if wanted is not None:
            found.append(along_the_edge(wanted, coat.finished))
    return max(found, key=lambda entry: entry[0])


def front_findings(job: Job, front: Front, drawing: Drawing, memory: Memory) -> list[Finding]:
    """Return what the proof has to say.

    Parameters
    ----------
    job : Job
        The job.
    front : Front
        Its proof.
    drawing : Drawing
        The artwork, for its lettering.
    memory : Memory
        What was found of earlier fronts.
    """
    return [
        *unseen_findings(job.coats, front.views),
        *_colours(job, front),
        *_contrast(job, front, drawing, memory),
        *order_findings(job.coats, front.order),
        *_register(job, front),
        *_at_the_edge(job, front),
        *_stack(job, front),
    ]


def _colours(job: Job, front: Front) -> list[Finding]:
    """What the artwork's own colours say; what the claims say, where nobody rendered them."""
    if front.compared is None:
        # Words that the job sets have the colours that it names, and no other reading.
        unchecked = [_unchecked()] if job.artwork.file else []
        return [*_disagreement(job, front), *unchecked]
    found = colour_findings(job.coats, front.compared)
    return [placed_as_worked(finding, job) for finding in found]


def _unchecked() -> Finding:
    return Finding.caution(
        "colours-unchecked",
        "the artwork's own colours are known by one reading only (a DXF drawing, lines whose "
        "width must not grow, or several pieces), so the front is not held against them",
        "Compare the picture as seen with the artwork, or save the artwork as plain SVG.",
    )


def _contrast(job: Job, front: Front, drawing: Drawing, memory: Memory) -> list[Finding]:
    by_fill: dict[str, list[BaseGeometry]] = {}
    regions = beside_codes([shape.region for shape in drawing.shapes], drawing)
    for shape, region in zip(drawing.shapes, regions, strict=True):
        by_fill.setdefault(shape.fill, []).append(region)
    names = [coat.colour for coat in job.coats]
    tints = [
        # Recoloured, the artwork's own colour says nothing of a paint whose name nobody knows.
        None if tint == "clear" or (coat.recolour and not tint_of(coat.colour)) else tint_of(tint)
        for coat, tint in zip(job.coats, coat_tints(job, front), strict=True)
    ]
    views = [as_worked_on(view, job) for view in front.views]
    is_glossy = not job.blank.finish.startswith("matt")
    most = {row.colour: row.most for row in front.compared.colours} if front.compared else {}
    shown_by = [None if (of := most.get(fill)) is None else of - 1 for fill in by_fill]
    found = memory.recall(
        (
            "contrast",
            digest_of(*front.views),
            tuple(digest_of(*shapes) for shapes in by_fill.values()),
            *names,
            *tints,
            is_glossy,
            *shown_by,
            _turned(job),
        ),
        lambda: contrast_findings(
            names,
            tints,
            views,
            list(by_fill.values()),
            is_glossy=is_glossy,
            shown_by=shown_by,
        ),
    )
    found = [*code_contrast_findings(drawing.codes, names, tints, views), *found]
    return [placed_as_worked(finding, job) for finding in found]


def _at_the_edge(job: Job, front: Front) -> list[Finding]:
    width, at = front.edge_sliver
    if width < _TOLD_MM:
        return []
    return [
        Finding.caution(
            "edge-sliver",
            f"where the sheet lies {job.registration.placing_mm:g} mm off, a line of paint "
            f"{width:.2f} mm wide stays along its edge: clamps or the bed leave no room to "
            "clear past it",
            "Lay the sheet farther from clamps and the bed's edge (machine.blank_at), or "
            "wipe that line off by hand.",
            at_mm=at,
        )
    ]


def _disagreement(job: Job, front: Front) -> list[Finding]:
    if front.agreement.share >= _AGREEMENT:
        return []
    shares = zip(job.coats, front.agreement.by_coat, strict=True)
    worst, share = min(shares, key=lambda pair: pair[1])
    return [
        Finding.caution(
            "front-differs",
            f"{100 * front.agreement.share:.2f} % of the face shows the artwork's colour; "
            f"{_shown(worst)} {100 * share:.1f} % of what is drawn "
            f"{'open to it' if worst.is_window else 'in it'}",
            "Look at the thin strokes and corners that the other findings name, or use a "
            "finer mark.",
        )
    ]


def _shown(coat: Coat) -> str:
    return "light comes through" if coat.is_window else f"{coat.colour} shows on"


def _sliver(coat: Coat) -> str:
    return "light" if coat.is_window else coat.colour


def _register(job: Job, front: Front) -> list[Finding]:
    """What two or more clearings that miss each other show."""
    if front.n_clearings < 2:
        return []
    error = job.registration.error_mm
    if not error:
        return [
            Finding.caution(
                "register-unknown",
                f"{front.n_clearings} clearings must meet, and how far they may miss each "
                "other is not given: slivers of a wrong colour as wide as that may show",
                'Measure it on two pieces and give it: [registration] error = "0.1 mm".',
            )
        ]
    found = [
        Finding.note(
            "register-method",
            f"the coats are cleared {_METHODS[front.method]}: {front.reason}; edges between "
            f"two later colours may lie up to {error:g} mm off",
        )
    ]
    slip = front.slip
    if slip is not None and slip.coat is not None and slip.width_mm >= _TOLD_MM:
        found.append(
            Finding.caution(
                "register-sliver",
                f"where two clearings miss each other by {error:g} mm a sliver of "
                f"{_sliver(job.coats[slip.coat - 1])} {slip.width_mm:.2f} mm wide shows where "
                "it should not",
                "Try another order of the coats or the other registration.method, or hold "
                "the sheet more closely and give the smaller error.",
                at_mm=slip.at_mm,
            )
        )
    return found


def _stack(job: Job, front: Front) -> list[Finding]:
    """What the method asks of the paint."""
    if front.n_clearings < 2:
        return []
    if front.method == "through":
        return [
            Finding.caution(
                "stack-dose",
                "each clearing goes through every coat that is there: the passes add up by "
                "coats, which is a starting guess",
                "Burn lines on a coupon with the same coats on the same plastic; watch for "
                "melted or frosted plastic.",
            )
        ]
    if not job.registration.error_mm or not job.route.has_beam:
        return []
    return [
        Finding.caution(
            "spread-over-coat",
            "later coats are cleared a little farther where an earlier coat hides them: the "
            "beam then runs over that coat, which must stay opaque",
            "Try it on a coupon with both coats; if the lower one is burnt, give that "
            "coat less power or a thicker film.",
        )
    ]


_METHODS = {"one-by-one": "one by one, each once it is dry", "through": "through all coats at once"}
