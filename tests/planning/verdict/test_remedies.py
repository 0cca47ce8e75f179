"""Every change that a remedy names is made, the job planned again, and the finding is gone.

The trial works near a place with the planner's mask; this test plans the whole job.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from shapely import affinity

from effort import ALL
from jobmaker import LYE, mark
from planning.verdict.spoiled import planned, svg, words
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job
from stopout.values import Level

SIZE = (16.0, 12.0)
CODES = {"part-lost", "parts-merged", "counter-closed", "thin-opening", "narrow-land"}


def page(body: str) -> bytes:
    return svg(body, width=SIZE[0], height=SIZE[1])


def bars(width: float, gap: float = 2.0) -> str:
    return (
        f'<path d="M3 3h{width}v5h-{width}z M{3 + width + gap} 3h{width}v5h-{width}z"/>'
        '<path d="M11 3h2v5h-2z"/>'
    )


def slots(gap: float) -> str:
    return f'<path d="M3 3h2v5h-2z M{5 + gap} 3h2v5h-2z M11 3h2v5h-2z"/>'


def counter(size: float) -> str:
    middle = 5 - size / 2
    return (
        f'<path fill-rule="evenodd" d="M3 3h4v4h-4z M{middle} {middle}h{size}v{size}h-{size}z"/>'
        '<path d="M11 3h2v5h-2z"/>'
    )


JOBS = {
    **{f"bars of {w} mm": {"data": page(bars(w))} for w in (0.07, 0.08, 0.09, 0.10, 0.105, 0.11)},
    **{
        f"bars of {w} mm left out": {"data": page(bars(w)), "limits": {"too_thin": "leave-out"}}
        for w in (0.06, 0.10)
    },
    **{
        f"bars of {w} mm stopped": {"data": page(bars(w)), "limits": {"too_thin": "stop"}}
        for w in (0.08, 0.11)
    },
    **{f"a gap of {w} mm": {"data": page(slots(w))} for w in (0.03, 0.09)},
    **{f"a counter of {w} mm": {"data": page(counter(w))} for w in (0.09,)},
    **{f"letters of {h} mm": {"data": page(words("sluice", 8, 7, h))} for h in (1.0, 1.3, 1.6)},
    "a deep etch": {"data": page(bars(0.22)), "etch": replace(LYE, depth_mm=0.12)},
    "a coarse mark": {"data": page(bars(0.2)), "clearing": {"mark_mm": mark(0.2)}},
    "a raised counter": {
        "data": page(counter(0.1)),
        "artwork": {"dark": "raised", "field_mm": 1.0},
        "limits": {"too_thin": "leave-out"},
    },
}


@cache
def made_of(name):
    """The plan of one of them."""
    return planned(size=SIZE, **JOBS[name])


def applied(made, way):
    """The job and drawing with one change made."""
    job, drawing = made.job, made.drawing
    if way.change == "depth_mm":
        return replace(job, etch=replace(job.etch, depth_mm=way.value)), drawing
    if way.change == "mark_mm":
        axes = tuple(replace(a, value=min(a.value, way.value)) for a in job.clearing.mark_mm)
        return replace(job, clearing=replace(job.clearing, mark_mm=axes)), drawing
    assert way.change == "scale"
    s = way.value
    blank = replace(job.blank, width_mm=s * job.blank.width_mm, height_mm=s * job.blank.height_mm)
    grown = affinity.scale(drawing.dark, s, s, origin=(0, 0))
    return replace(job, blank=blank), replace(drawing, dark=grown, shapes=(), glyphs=())


def found(made) -> set[str]:
    return {
        one.code for one in made.verdict.told if one.level is not Level.NOTE and one.code in CODES
    }


# One of each kind, and all of them in the bench: each takes a plan or three.
KINDS = (
    "bars of 0.08 mm",
    "bars of 0.1 mm left out",
    "bars of 0.11 mm stopped",
    "a gap of 0.09 mm",
    "a counter of 0.09 mm",
    "letters of 1.3 mm",
    "a deep etch",
    "a coarse mark",
    "a raised counter",
)


@pytest.mark.parametrize("name", list(JOBS) if ALL else KINDS)
def test_each_named_change_makes_the_finding_go(name):
    made = made_of(name)
    told = [one for one in made.verdict.told if one.ways]
    tried = {(one.code, way) for one in told for way in one.ways}
    for code, way in sorted(tried, key=str):
        job, drawing = applied(made, way)
        again = plan_job(job, drawing, knowledge_for(job))
        assert code not in found(again), (way, [one.text for one in again.verdict.told])


def test_most_of_these_jobs_have_a_remedy_that_was_tried():
    """Else the test above would hold of nothing."""
    some = [made_of(name) for name in ("bars of 0.08 mm", "letters of 1.3 mm")]
    assert all(any(one.ways for one in made.verdict.told) for made in some)


def test_no_remedy_lies_beyond_what_a_shop_can_do():
    made = made_of("bars of 0.08 mm")
    for one in made.verdict.told:
        for way in one.ways:
            if way.change == "depth_mm":
                assert way.value >= made.job.etch.depth_mm / 3 - 1e-9
            if way.change == "mark_mm":
                assert way.value >= 0.5 * min(made.job.machine.spot_mm)
            if way.change == "scale":
                x0, y0, x1, y1 = made.drawing.dark.bounds
                assert way.value * (x1 - x0) <= SIZE[0]
                assert way.value * (y1 - y0) <= SIZE[1]


def beside(width: float, gap: float) -> bytes:
    """A thin bar beside a wide one."""
    return page(f'<path d="M3 3h{width}v5h-{width}z M{3 + width + gap} 2h2v7h-2z"/>')


@pytest.mark.parametrize(
    ("drawn", "remedy", "enough", "too_little"),
    [
        (
            (0.08, 0.03),
            "Draw it 0.12 mm wide or more, and the gap beside it wider too.",
            (0.12, 0.5),
            [(0.08, 0.5), (0.12, 0.03)],
        ),
        ((0.16, 0.12), "Draw the gap beside it wider.", (0.16, 0.5), [(0.22, 0.12)]),
    ],
)
def test_a_thin_stroke_beside_another_is_told_all_that_it_takes(drawn, remedy, enough, too_little):
    made = planned(beside(*drawn), size=SIZE)
    assert [one.remedy for one in made.findings if one.code == "thin-opening"] == [remedy]
    assert "thin-opening" not in found(planned(beside(*enough), size=SIZE))
    for other in too_little:
        assert "thin-opening" in found(planned(beside(*other), size=SIZE))


@pytest.mark.parametrize("too_thin", ["stop", "widen"])
def test_only_a_strict_job_loses_a_flat_chevron_and_is_told_the_key(too_thin):
    chevron = page('<path d="M3.2 5.28L3.9 4.99L5.4 5.41z M11 3h2v5h-2z"/>')
    made = planned(chevron, size=SIZE, limits={"too_thin": too_thin})
    grave = [one for one in made.verdict.told if one.code in CODES and one.level is not Level.NOTE]
    is_strict = too_thin == "stop"
    assert ("part-lost" in {one.code for one in grave}) is is_strict
    assert all(('set too_thin = "widen"' in one.remedy) is is_strict for one in grave)
