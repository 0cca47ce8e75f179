"""The proof of a sign from its programs: colours, slivers, crosses, and what the plan says."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, box

from jobmaker import codes, drawing, make_job
from planning.plain_reading import distance_to, lit, read_steps
from stopout.job.record import Blank, Coat, Registration, Shows
from stopout.library.knowledge import knowledge_for
from stopout.plan_file import summarise
from stopout.planning import plan_job
from stopout.values import DrawnShape

RED, IVORY = "#a8322a", "#f1e7c8"
BAR, LETTER, DOT = box(2, 4, 10, 8), box(4, 5, 6, 7), box(12, 2, 14, 4)


def three_colours(registration, **changes):
    """A blue ground, a red bar with an ivory letter in it, and an ivory dot on the ground."""
    coats = tuple(
        Coat(paint="acrylic-lacquer", colour=colour, shows=shows)
        for colour, shows in (
            ("blue", Shows(kind="rest")),
            ("red", Shows(kind="fill", value=RED)),
            ("ivory", Shows(kind="fill", value=IVORY)),
        )
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
        registration=registration,
        limits={"edge_tolerance_mm": 0.05},
        **changes,
    )
    shapes = tuple(
        DrawnShape(fill=fill, ident="", classes=(), region=region)
        for fill, region in ((RED, BAR.difference(LETTER)), (IVORY, LETTER.union(DOT)))
    )
    dark = shapes[0].region.union(shapes[1].region)
    return plan_job(job, drawing(dark, shapes=shapes), knowledge_for(job))


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
    job_shapes = [box(2 + 0.5 * k, 2, 2.02 + 0.5 * k, 9) for k in range(24)]
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
