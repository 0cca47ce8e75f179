"""The proof of a sign from its programs: colours, slivers, crosses, and what the plan says."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Point, box

from jobmaker import codes, drawing, make_job
from planning.plain_reading import distance_to, lit, read_steps
from remembered import afresh
from stopout.job.record import Blank, Coat, Registration, Shows
from stopout.library.knowledge import knowledge_for
from stopout.plan_file import summarise
from stopout.planning import plan_job
from stopout.planning.memory import Memory
from stopout.planning.road import front, sign_coats
from stopout.values import ColourPicture, DrawnShape

RED, IVORY = "#a8322a", "#f1e7c8"
BAR, LETTER, DOT = box(2, 4, 10, 8), box(4, 5, 6, 7), box(12, 2, 14, 4)


def three_colours(registration, **changes):
    """A blue ground, a red bar with an ivory letter in it, and an ivory dot on the ground."""
    return planned(job_of(registration, **changes))


def job_of(registration, ground="blue", finish="bare", **changes):
    coats = tuple(
        Coat(paint="acrylic-lacquer", colour=colour, shows=shows)
        for colour, shows in (
            (ground, Shows(kind="rest")),
            ("red", Shows(kind="fill", value=RED)),
            ("ivory", Shows(kind="fill", value=IVORY)),
        )
    )
    limits = {"edge_tolerance_mm": 0.05, **changes.pop("limits", {})}
    return make_job(
        blank=Blank(
            material="acrylic-cast",
            width_mm=16.0,
            height_mm=10.0,
            thickness_mm=3.0,
            worked_side=changes.pop("side", "back"),
            finish=finish,
        ),
        coats=coats,
        etch=None,
        registration=registration,
        limits=limits,
        **changes,
    )


def planned(job, letter=LETTER, picture=None, **options):
    shapes = tuple(
        DrawnShape(fill=fill, ident="", classes=(), region=region)
        for fill, region in ((RED, BAR.difference(letter)), (IVORY, letter.union(DOT)))
    )
    dark = shapes[0].region.union(shapes[1].region)
    return plan_job(
        job, drawing(dark, shapes=shapes, picture=picture), knowledge_for(job), **options
    )


def wanted_at(x, y):
    """The colour drawn at a place as seen."""
    if LETTER.contains(Point(x, y)) or DOT.contains(Point(x, y)):
        return 2
    return 1 if BAR.contains(Point(x, y)) else 0


@pytest.mark.parametrize("method", ["one-by-one", "through"])
def test_spraying_and_clearing_by_the_written_programs_shows_the_artwork(method):
    """The programs are read by a reader of the tests' own; the law of coats is spelled out."""
    made = three_colours(Registration(error_mm=0.1, method=method))
    rng = np.random.default_rng(4)
    places = rng.uniform((0.2, 0.2), (15.8, 9.8), (400, 2))
    edges = [BAR.boundary, LETTER.boundary, DOT.boundary]
    gone = {
        coat.number: distance_to(
            lit(read_steps(coat.program, made.job.machine)), places_as_worked(places)
        )
        <= 0.05
        for coat in made.coats
    }
    checked = 0
    for k, (x, y) in enumerate(places):
        if min(edge.distance(Point(x, y)) for edge in edges) < 0.08:
            continue
        there = []
        for number in (1, 2, 3):
            there.append(number)
            if number in gone and gone[number][k]:
                there = there[:-1] if method == "one-by-one" else []
        assert there[0] - 1 == wanted_at(x, y), (x, y)
        checked += 1
    assert checked > 300


def places_as_worked(places):
    return np.column_stack([16.0 - places[:, 0], places[:, 1]])


def test_the_plan_states_agreement_method_and_sliver():
    made = three_colours(Registration(error_mm=0.1))
    front = summarise(made)["front"]
    assert front["agreement"] > 0.999
    assert front["method"] == "one-by-one"
    assert front["sliver_mm"] == 0
    assert {"register-method", "spread-over-coat"} <= set(codes(made))


def test_an_error_that_nobody_gave_is_a_caution_not_a_zero():
    made = three_colours(Registration())
    assert "register-unknown" in codes(made, "caution")
    assert summarise(made)["front"]["sliver_mm"] is None


def test_through_all_coats_the_passes_add_up_and_a_coupon_is_asked_for():
    made = three_colours(Registration(error_mm=0.1, method="through"))
    assert [coat.clearing.passes for coat in made.coats] == [1, 2]
    assert "stack-dose" in codes(made, "caution")


def test_crosses_are_cleared_with_the_first_coat_only_and_are_no_disagreement():
    made = three_colours(Registration(error_mm=0.1, marks_mm=((1.8, 2.0), (14.5, 8.0))))
    first, second = made.coats
    for x, y in ((1.8, 2.0), (14.5, 8.0)):
        at = Point(16.0 - x, y)
        assert first.opening.contains(at)
        assert not second.opening.intersects(at.buffer(1.0))
    assert made.front.agreement.share > 0.999


def test_a_lost_stroke_shows_as_disagreement():
    """Letters of 0.02 mm that the mark cannot make and the job leaves out."""
    job_shapes = [box(2 + 1.5 * k, 2, 2.02 + 1.5 * k, 9) for k in range(8)]
    coats = (
        Coat(paint="acrylic-lacquer", colour="blue", shows=Shows(kind="rest")),
        Coat(paint="acrylic-lacquer", colour="ivory", shows=Shows(kind="dark")),
    )
    job = make_job(
        blank=Blank(
            material="acrylic-cast",
            width_mm=16.0,
            height_mm=10.0,
            thickness_mm=3.0,
            worked_side="back",
        ),
        coats=coats,
        etch=None,
    )
    made = plan_job(job, drawing(shapely.union_all(job_shapes)), knowledge_for(job))
    assert "front-differs" in codes(made, "caution")


def picture_in(fill):
    """The bare page as a picture, with a bar of one colour on it; 0.1 mm a pixel."""
    rgb = np.full((100, 160, 3), 255, dtype=np.uint8)
    rgb[20:60, 20:100] = [int(fill[k : k + 2], 16) for k in (1, 3, 5)]
    is_painted = (rgb != 255).any(axis=2)
    return ColourPicture(rgb=rgb, is_painted=is_painted, left_mm=0.0, top_mm=10.0, px_mm=0.1)


# Each hangs on something else; the first again at the end.
EDITS = [
    ({}, {}),
    ({"error": 0.2}, {}),
    ({"placing": 0.3}, {}),
    ({"ground": "navy", "finish": "filmed"}, {}),
    ({}, {"picture": picture_in(IVORY)}),
    ({}, {"picture": picture_in(RED)}),
    ({"side": "front"}, {}),
    ({"limits": {"edge_tolerance_mm": 0.03}}, {}),
    ({"method": "through"}, {}),
    ({}, {"letter": affinity.translate(LETTER, 0.4, 0.0)}),
    ({}, {}),
]


def bytes_of(plan):
    """All that is to be told and drawn of a sign."""
    front = plan.front
    regions = [
        *plan.shown,
        *front.views,
        *front.moved_views,
        *(region for coat in plan.coats for region in (coat.target, coat.opening, coat.finished)),
    ]
    seen = front.slip, front.order, repr(front.compared)
    told = summarise(plan), plan.findings, plan.verdict, seen
    return shapely.to_wkb(regions).tolist(), told


def test_a_sign_that_is_remembered_is_the_sign_planned_anew_after_every_edit():
    def draft(change, options, **memory):
        change = dict(change)
        registration = Registration(
            error_mm=change.pop("error", 0.1),
            placing_mm=change.pop("placing", 0.5),
            method=change.pop("method", "auto"),
        )
        with afresh():
            return planned(job_of(registration, **change), draft=True, **options, **memory)

    memory, anew = Memory(), {}
    for change, options in EDITS:
        key = repr((change, sorted(options, key=str), *map(id, options.values())))
        anew[key] = anew.get(key) or bytes_of(draft(change, options))
        assert bytes_of(draft(change, options, memory=memory)) == anew[key], change


def test_of_a_sign_only_what_an_edit_may_change_is_looked_at_again(monkeypatch):
    asked = []
    for module, name in (
        (sign_coats, "plan_layers"),
        (sign_coats, "claims_of"),
        (front, "seen_of"),
        (front, "compare_front"),
        (front, "contrast_findings"),
        (front, "edge_sliver_mm"),
    ):
        real = getattr(module, name)

        def noted(*args, _real=real, _name=name, **kwargs):
            asked.append(_name)
            return _real(*args, **kwargs)

        monkeypatch.setattr(module, name, noted)
    memory, registration, looks = Memory(), Registration(error_mm=0.1), []

    def draft(**changes):
        asked.clear()
        looks.clear()
        job = job_of(registration, **changes)
        with afresh():
            planned(job, draft=True, memory=memory, glimpse=lambda _: looks.append([*asked]))
        return set(asked)

    assert {"plan_layers", "seen_of", "contrast_findings"} <= draft()
    # The front is shown as soon as it is known who shows what.
    assert looks[0] == ["claims_of"]
    assert draft(name="Another") == set()
    assert looks == []
    assert draft(ground="navy") == {"contrast_findings"}
    assert draft(ground="blue") == set()
