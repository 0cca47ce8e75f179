"""Signs that are lit: windows left open, and a diffuser coat behind them."""

from __future__ import annotations

import json

import pytest
from shapely.geometry import box

from jobmaker import codes, drawing, make_job, plan, plate
from stopout.job.record import Coat, Shows
from stopout.library.knowledge import knowledge_for
from stopout.plan_file import summarise
from stopout.planning import plan_job
from stopout.values import DrawnShape

GOLD = "#c0a020"
LETTER, BAR = box(2, 2, 5, 8), box(7, 2, 10, 8)


def lit_sign(*coats, **changes):
    """A 12 x 10 mm sign of a gold bar and a letter; `coats` are (paint, colour, shows)."""
    made = tuple(Coat(paint=paint, colour=colour, shows=shows) for paint, colour, shows in coats)
    blank = plate(material="acrylic-cast", worked_side="back", thickness_mm=3.0)
    job = make_job(blank=blank, coats=made, etch=None, **changes)
    shapes = tuple(
        DrawnShape(fill=fill, ident="", classes=(), region=region)
        for fill, region in ((GOLD, BAR), ("#000000", LETTER))
    )
    return plan_job(job, drawing(LETTER.union(BAR), shapes=shapes), knowledge_for(job))


REST, DARK = Shows(kind="rest"), Shows(kind="dark")
BLACK = ("acrylic-lacquer", "black", REST)
BAR_GOLD = ("acrylic-lacquer", "gold", Shows(kind="fill", value=GOLD))
LETTER_SHOWS = Shows(kind="fill", value="#000000")


def test_light_comes_through_where_the_last_coat_is_clear_and_nowhere_else():
    """The law of coats: light passes where every coat that was sprayed is cleared."""
    made = lit_sign(BLACK, BAR_GOLD, ("acrylic-lacquer", "clear", LETTER_SHOWS))
    black, gold = (coat.finished for coat in made.coats)
    open_to_light = black.intersection(gold)
    # As worked, a 12 mm sheet: x becomes 12 - x. A round mark of 0.1 mm leaves its corners.
    window = box(7, 2, 10, 8)
    corners = 4 * (1 - 3.14159 / 4) * 0.05**2
    assert open_to_light.symmetric_difference(window).area == pytest.approx(corners, abs=0.02)
    assert made.front.views[2].symmetric_difference(open_to_light).area < 1e-6
    assert not any(coat.coat.is_window for coat in made.coats)


def test_nothing_is_stated_of_the_paint_of_a_window():
    made = lit_sign(BLACK, ("epoxy-two-part", "clear", DARK))
    stated = json.dumps([value["name"] for value in summarise(made)["values"]])
    assert "coat 1" in stated
    assert "coat 2" not in stated
    assert "epoxy-paint" not in {hazard.ident for hazard in made.hazards}


def test_a_window_that_is_too_small_is_told_as_light_that_is_missing():
    """A mark of 1.5 mm leaves much of a 3 mm letter's corners; the colour is not called clear."""
    coarse = {"mark_mm": None, "dose_ratio": 2.0}
    made = lit_sign(
        BLACK,
        ("acrylic-lacquer", "clear", DARK),
        machine={"spot_mm": (3.0, 3.0)},
        clearing=coarse,
    )
    (told,) = [f for f in made.findings if f.code == "front-differs"]
    assert "light comes through" in told.message
    assert "clear shows" not in told.message


def test_a_diffuser_as_the_last_coat_raises_no_finding_and_states_its_thin_coats():
    made = lit_sign(BLACK, ("diffuser-lacquer", "white", DARK))
    assert not [code for code in codes(made) if code.startswith("diffuser")]
    values = {value["name"]: value for value in summarise(made)["values"]}
    assert values["thin coats of coat 2"]["kind"] == "practice"


@pytest.mark.parametrize("place", [0, 1])
def test_a_diffuser_that_is_painted_over_is_a_caution(place):
    coats = [BLACK, BAR_GOLD, ("acrylic-lacquer", "white", LETTER_SHOWS)]
    coats[place] = ("diffuser-lacquer", *coats[place][1:])
    made = lit_sign(*coats)
    (told,) = [f for f in made.findings if f.code == "diffuser-not-last"]
    assert told.message.startswith(f"coat {place + 1} ")
    assert "diffuser-not-last" in codes(made, "caution")


def test_a_diffuser_before_windows_to_light_is_the_last_paint_and_may_stay():
    gold = ("diffuser-lacquer", *BAR_GOLD[1:])
    made = lit_sign(BLACK, gold, ("acrylic-lacquer", "clear", LETTER_SHOWS))
    assert not [code for code in codes(made) if code.startswith("diffuser")]


def test_a_diffuser_as_the_resist_of_an_etch_is_a_stop():
    made = plan(box(2, 2, 8, 8), make_job(coats=(Coat(paint="diffuser-lacquer"),)))
    assert "resist-unfit" in codes(made, "stop")
