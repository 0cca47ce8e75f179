"""Openings made without a beam: printed films and cut stencils.

Truth tables: mirror parity and film polarity follow from the definitions of film positive and
negative and of negative- and positive-acting resists in electronic artwork standards; closed
forms are elementary geometry.
"""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.affinity import scale

from jobmaker import LYE, codes, drawing, make_job, plan
from remembered import afresh
from shapes import glyph_f
from stopout.errors import PlanError
from stopout.job.record import Coat, Film, Stencil
from stopout.library.knowledge import knowledge_for
from stopout.mask import bridge_islands, islands_of, peel_lines, sharp_corners
from stopout.outcome import advance
from stopout.pictures import cut_svg
from stopout.pictures.cut import corner_paths
from stopout.plan_file import summarise
from stopout.planning import file_names, plan_job
from stopout.planning.memory import Memory
from stopout.planning.opening.by_film import (
    FilmOpener,
    film_dark_is_art,
    film_growth_um,
    film_image,
    film_is_mirrored,
    film_reading,
)

FACE = shapely.box(0, 0, 12, 10)
UNDERCUT, GROWTH = 0.06, 0.01


def without_beam(**changes):
    return replace(make_job(), machine=None, clearing=None, **changes)


def printed(**film):
    fields = {"resist_acts": "negative", "growth_mm": GROWTH, **film}
    return without_beam(method="printed-film", film=Film(**fields))


def cut(**stencil):
    return without_beam(
        method="cut-film", stencil=Stencil(**stencil), coats=(Coat(paint="vinyl-film"),)
    )


@pytest.mark.parametrize(
    ("acts", "letters_opened", "dark_is_art"),
    [
        ("negative", True, True),
        ("negative", False, False),
        ("positive", True, False),
        ("positive", False, True),
    ],
)
def test_the_film_is_a_positive_where_a_negative_resist_is_opened_at_the_letters(
    acts, letters_opened, dark_is_art
):
    assert film_dark_is_art(acts, letters_opened=letters_opened) is dark_is_art


@pytest.mark.parametrize(
    ("back", "side", "mirrored"),
    [(False, "down", True), (True, "down", False), (False, "up", False), (True, "up", True)],
)
def test_a_film_face_down_on_metal_is_printed_mirrored_and_behind_clear_plastic_not(
    back, side, mirrored
):
    assert film_is_mirrored(is_back_worked=back, printed_side=side) is mirrored
    reading = film_reading(is_back_worked=back, printed_side=side)
    assert reading.on_work == ("BACKWARDS" if back else "RIGHT")
    assert reading.page == ("BACKWARDS" if mirrored else "RIGHT")


def test_300_mm_of_film_grow_24_um_at_10_per_cent_more_humidity():
    # Published data of polyester film bases: 0.0008 % for each per cent of relative humidity.
    assert film_growth_um(300, 10) == pytest.approx(24, abs=0.5)


def test_a_square_is_drawn_smaller_by_undercut_and_growth_with_sharp_corners():
    made = plan(shapely.box(3, 3, 8, 7), printed()).coats[0]
    edge = UNDERCUT + GROWTH
    drawn = shapely.box(3 + edge, 3 + edge, 8 - edge, 7 - edge)
    assert made.drawn.symmetric_difference(drawn).area < 1e-4
    # Forwards its edges come back to the artwork; corners stop short by (sqrt 2 - 1) of both.
    assert made.finished.bounds == pytest.approx((3, 3, 8, 7), abs=0.001)
    assert made.outcome.worst_outside_mm < 0.001
    assert made.outcome.worst_inside_mm == pytest.approx((math.sqrt(2) - 1) * edge, abs=0.001)


def test_a_disc_is_drawn_with_a_smaller_radius():
    made = plan(shapely.Point(6, 5).buffer(3, quad_segs=256), printed()).coats[0]
    assert made.drawn.area == pytest.approx(math.pi * (3 - UNDERCUT - GROWTH) ** 2, rel=1e-3)
    assert made.opening.area == pytest.approx(math.pi * (3 - UNDERCUT) ** 2, rel=1e-3)


def test_the_prediction_is_the_drawn_film_grown_and_then_etched():
    made = plan(shapely.box(3, 3, 8, 7), printed()).coats[0]
    again = advance(advance(made.drawn, GROWTH), UNDERCUT)
    assert made.finished.symmetric_difference(again).area < 1e-9


def test_a_slot_under_the_smallest_opening_and_the_undercut_is_left_out():
    # Least slot: undercut twice and the smallest opening, 0.12 + 0.10 mm.
    wide, thin = shapely.box(2, 2, 2.3, 8), shapely.box(5, 2, 5.15, 8)
    made = plan(shapely.union_all([wide, thin]), printed()).coats[0]
    assert made.drawn.bounds[2] < 2.3
    assert made.drawn.bounds[2] - made.drawn.bounds[0] == pytest.approx(0.3 - 0.14, abs=0.001)
    assert made.outcome.lost == 1


def test_the_film_of_a_positive_resist_is_dark_outside_the_opening_and_mirrored():
    drawn = shapely.box(1, 2, 3, 4)
    film = Film(resist_acts="positive")
    dark = film_image(drawn, FACE, film, width_mm=12)
    assert dark.area == pytest.approx(22 * 20 - 4)
    assert not dark.intersects(shapely.Point(10, 3))
    clear = film_image(drawn, FACE, Film(resist_acts="negative"), width_mm=12)
    assert clear.symmetric_difference(scale(drawn, -1, origin=(6, 5))).area < 1e-12


def test_no_beam_means_no_program_no_bounds_and_a_film():
    made = plan(shapely.box(3, 3, 8, 7), printed())
    data = summarise(made)
    assert data["coats"][0]["clearing"] is None
    assert data["coats"][0]["files"]["program"] is None
    assert data["coats"][0]["files"]["film"] == "film-1.pdf"
    assert data["files"]["bounds"] is None
    assert data["machine"] is None
    assert not any(hazard.ident.startswith("laser") for hazard in made.hazards)


def test_a_sheet_too_small_for_plate_and_bar_stops_and_writes_no_film():
    made = plan(shapely.box(3, 3, 8, 7), printed(page_mm=(100.0, 60.0)))
    assert "film-page" in codes(made, "stop")
    assert file_names(made.coats[0])["film"] is None
    (stop,) = [one for one in made.findings if one.code == "film-page"]
    asked = tuple(float(mm) for mm in re.findall(r'"([\d.]+) mm"', stop.remedy))
    assert "film-page" not in codes(plan(shapely.box(3, 3, 8, 7), printed(page_mm=asked)), "stop")


def test_vinyl_is_cut_with_a_knife_and_never_comes_under_the_beam():
    square = shapely.box(3, 3, 8, 7)
    assert "vinyl-under-the-beam" not in codes(plan(square, cut()))
    burnt = make_job(coats=(Coat(paint="vinyl-film"),))
    assert "vinyl-under-the-beam" in codes(plan(square, burnt), "stop")


def test_nothing_wide_enough_is_refused_with_the_width_that_would_do():
    with pytest.raises(PlanError, match=r"strokes need 0\.2"):
        plan(shapely.box(3, 3, 3.05, 7), printed())


def ring(outer, inner):
    middle = shapely.Point(6, 5)
    return middle.buffer(outer, quad_segs=64).difference(middle.buffer(inner, quad_segs=64))


def test_a_ring_has_one_island_as_wide_as_its_hole():
    (island,) = islands_of(ring(3, 1), FACE)
    assert island.across_mm == pytest.approx(2, abs=0.01)


def test_two_bridges_hold_the_island_of_a_ring_and_span_its_width():
    left, ties = bridge_islands(ring(3, 1), FACE, width_mm=0.5)
    assert len(ties) == 2
    assert [tie.length_mm for tie in ties] == pytest.approx([2, 2], abs=0.01)
    assert islands_of(left, FACE) == ()
    # A bridge is a strip of that width between two circles: its length varies by its sagittae.
    assert ring(3, 1).area - left.area == pytest.approx(2 * 0.5 * 2, rel=0.01)
    across = np.subtract(ties[0].at_mm, (6, 5)) + np.subtract(ties[1].at_mm, (6, 5))
    assert across == pytest.approx([0, 0], abs=0.05)  # the circles are polygons


def test_nested_islands_are_all_held():
    nested = shapely.union_all([ring(4.5, 3.5), ring(2, 1)])
    left, ties = bridge_islands(nested, FACE, width_mm=0.4)
    assert len(islands_of(nested, FACE)) == 2
    assert islands_of(left, FACE) == ()
    assert len(ties) == 4


def test_a_square_island_has_four_sharp_corners_and_a_round_one_none():
    hole = shapely.box(1, 1, 9, 9).difference(shapely.box(4, 4, 6, 6))
    assert len(sharp_corners(hole, FACE, radius_mm=0.3)) == 4
    assert sharp_corners(ring(3, 1), FACE, radius_mm=0.3) == ()


def test_waste_90_mm_long_is_divided_once_or_twice_across():
    lines = peel_lines(shapely.box(0, 0, 90, 20), longest_mm=30)
    assert [line.length for line in lines] == pytest.approx([20, 20])
    assert [line.bounds[0] for line in lines] == pytest.approx([30, 60])


def test_a_square_is_cut_in_four_lines_that_run_past_its_corners():
    paths = corner_paths(shapely.get_coordinates(shapely.box(0, 0, 4, 4)), overrun_mm=0.2)
    lengths = [shapely.LineString(path).length for path in paths]
    assert lengths == pytest.approx([4.4] * 4)


def test_a_circle_is_cut_in_one_line_that_overlaps_itself():
    rim = shapely.get_coordinates(shapely.Point(0, 0).buffer(2, quad_segs=32))
    (path,) = corner_paths(rim, overrun_mm=0.2)
    assert shapely.LineString(path).length == pytest.approx(4 * math.pi + 0.4, abs=0.01)


def test_the_cut_file_reaches_past_the_plate_and_fills_nothing():
    size = {"width_mm": 12, "height_mm": 10, "overrun_mm": 0.2, "margin_mm": 5}
    text = cut_svg(shapely.box(3, 3, 8, 7), title="x", **size).decode()
    assert 'width="22mm" height="20mm"' in text
    assert 'fill="none"' in text
    assert text.count("<path") == 4 + 1


def test_the_limits_of_a_weeded_film_are_told():
    small = shapely.box(2, 2, 10, 8).difference(shapely.box(5, 5, 6, 6))
    thin = shapely.box(0.5, 0.5, 1.2, 9)
    told = codes(plan(shapely.union_all([small, thin]), cut(margin_mm=2.0)))
    assert {"stencil-islands", "stencil-stroke", "stencil-corners", "stencil-margin"} <= set(told)


def test_what_a_loose_stencils_bridges_cross_is_told_so_and_is_whole_on_transfer_tape():
    """The ring is 2 mm wide: to draw it wider, as for a stroke too thin, would not help."""
    band = ring(4, 2)
    told = [one for one in plan(band, cut(is_loose=True)).verdict.told if one.code == "part-lost"]
    assert told
    for one in told:
        assert "bridge" in one.message
        assert one.remedy.startswith("Write loose = false in [stencil]")
    whole = plan(band, cut(is_loose=False)).verdict.told
    assert "part-lost" not in [one.code for one in whole]


def test_lye_is_refused_for_photoresist():
    job = without_beam(
        method="printed-film",
        film=Film(resist_acts="negative", growth_mm=0.01),
        coats=(Coat(paint="dry-film-photoresist"),),
        etch=LYE,
    )
    assert any(f.level == "stop" for f in plan(shapely.box(3, 3, 8, 7), job).findings)


def test_a_film_s_draft_is_remembered_until_something_it_hangs_on_changes(monkeypatch):
    opened, opening = [], FilmOpener.open

    def counted(self, *asked):
        opened.append(self)
        return opening(self, *asked)

    monkeypatch.setattr(FilmOpener, "open", counted)
    memory = Memory()

    def draft(job, memory=memory):
        with afresh():
            return plan_job(
                job, drawing(glyph_f()), knowledge_for(job), draft=True, memory=memory
            ).coats[0]

    one = draft(printed())
    again = draft(replace(printed(), name="Another"))
    assert len(opened) == 1
    assert again.finished.wkb == one.finished.wkb
    assert again.mask == one.mask
    coarser = replace(printed(growth_mm=0.03), name="Another")
    assert draft(coarser).finished.wkb == draft(coarser, None).finished.wkb != one.finished.wkb
    assert len(opened) == 3
