"""Places to ring and to enlarge, against closed forms."""

import pytest
from shapely.geometry import MultiPolygon, Point, box
from shapely.ops import unary_union

from stopout.pictures import CloseUp, PreviewScene
from stopout.pictures.piece.deviations import noticeable, rings, thinnest_place, worst_place
from stopout.values import Finding, Level

EMPTY = MultiPolygon()


def _scene(target, finished, **more) -> PreviewScene:
    return PreviewScene(
        title=("x",),
        width_mm=40,
        height_mm=20,
        blank=box(0, 0, 40, 20),
        target=target,
        opening=finished,
        finished=finished,
        too_much=finished.difference(target),
        too_little=target.difference(finished),
        **more,
    )


def test_the_worst_place_of_a_disc_made_too_large_is_the_difference_of_radii():
    disc = Point(10, 10).buffer(2, quad_segs=64)
    place = worst_place(_scene(disc, Point(10, 10).buffer(2.05, quad_segs=64)))
    assert place is not None
    assert place.caption == "50 µm outside the artwork"
    assert Point(place.at_mm).distance(Point(10, 10)) == pytest.approx(2.05, abs=2e-3)


def test_the_worst_place_of_a_rounded_square_is_its_corner():
    # Closed form: the corner's tip lies r (sqrt 2 - 1) from an arc of radius r, 0.414 r.
    square = box(5, 5, 9, 9)
    place = worst_place(_scene(square, square.buffer(-0.5).buffer(0.5, quad_segs=64)))
    assert place is not None
    assert place.caption == "207 µm inside the artwork"


def test_lost_parts_do_not_count_as_the_worst_edge():
    line = box(20, 5, 20.05, 15)
    place = worst_place(_scene(unary_union([box(5, 5, 9, 9), line]), box(5, 5, 9, 9), lost=line))
    assert place is None


def test_a_true_outcome_has_no_worst_place():
    assert worst_place(_scene(box(5, 5, 9, 9), box(5, 5, 9, 9))) is None


@pytest.mark.parametrize("width", [0.1, 0.22, 0.6])
def test_the_thinnest_stroke_is_found_among_wider_ones(width):
    bars = [box(2, 2, 12, 4), box(2, 6, 12, 6 + width), Point(20, 10).buffer(4)]
    place = thinnest_place(unary_union(bars))
    assert place is not None
    assert bars[1].contains(Point(place.at_mm))
    assert width <= float(place.caption.split()[-3]) <= 1.2 * width
    assert thinnest_place(unary_union(bars), least_mm=width) == place


def test_the_point_of_a_taper_is_no_thin_stroke():
    from shapely.geometry import Polygon

    taper = Polygon([(2, 2), (30, 2), (2, 5)])
    place = thinnest_place(unary_union([taper, box(2, 10, 20, 10.3)]))
    assert place is not None
    assert place.at_mm[1] > 10


def test_a_stroke_that_another_enlargement_shows_is_not_enlarged_again():
    bars = [box(2, 2, 12, 2.2), box(2, 8, 9, 8.2)]
    shown = CloseUp(at_mm=(7, 2.1), caption="")
    place = thinnest_place(unary_union(bars), elsewhere_than=shown)
    assert place is not None
    assert place.at_mm[1] > 8


def test_a_stroke_of_which_there_are_many_is_found_once_and_not_where_another_shows_it():
    bars = [box(x, y, x + 5, y + 0.2) for x in (2, 12, 22) for y in (2, 6, 10)]
    shown = CloseUp(at_mm=(3, 2.1), caption="")
    places = [thinnest_place(unary_union(bars), elsewhere_than=one) for one in (None, shown)]
    assert places[0].caption == places[1].caption
    assert all(unary_union(bars).covers(Point(place.at_mm)) for place in places)
    assert Point(places[1].at_mm).distance(bars[0]) > 1


def test_nothing_has_no_thinnest_stroke():
    assert thinnest_place(EMPTY) is None


def test_slivers_are_not_noticeable_and_true_deviations_keep_their_place():
    sliver, blot = box(1, 1, 9, 1.002), box(3, 3, 3.05, 4)
    left = noticeable(MultiPolygon([sliver, blot]))
    assert left.symmetric_difference(blot).area < 0.05 * blot.area
    assert noticeable(EMPTY).is_empty


def test_a_finding_takes_the_ring_of_the_place_it_tells_of():
    widened = MultiPolygon([box(10, 10, 11, 10.1), box(30, 5, 31, 5.1)])
    told = Finding(code="thin-opening", level=Level.CAUTION, message="m", at_mm=(10.2, 10.05))
    scene = _scene(box(5, 5, 9, 9), box(5, 5, 9, 9), widened=widened, findings=(told,))
    first, second = rings(scene)
    assert (first.number, first.level, first.message) == (1, "caution", "m.")
    assert first.box_mm == (10, 10, 11, 10.1)
    assert (second.number, second.level) == (2, "widened")
    assert second.box_mm == (30, 5, 31, 5.1)


def test_many_findings_alike_share_rings_and_one_line():
    alike = [
        Finding(code="thin", level=Level.NOTE, message=f"m{k}", at_mm=(10 + k / 2, 5))
        for k in range(9)
    ]
    stop = Finding(code="cannot", level=Level.STOP, message="s", at_mm=(30, 15))
    first, second = rings(_scene(box(5, 5, 9, 9), box(5, 5, 9, 9), findings=(*alike, stop)))
    assert (first.level, first.message) == ("stop", "s.")
    assert second.message == "9 places alike. The first of them: m0."
    assert second.box_mm == pytest.approx((9.99, 4.99, 14.01, 5.01))


def test_of_very_many_places_only_the_largest_are_ringed_and_the_count_is_told():
    widened = MultiPolygon(
        [box(x, y, x + 0.01 * x, y + 0.1) for x in range(2, 38, 4) for y in range(2, 18, 4)]
    )
    ringed = rings(_scene(box(5, 5, 9, 9), box(5, 5, 9, 9), widened=widened))
    assert len(ringed) == 12
    assert "12 largest of 36 places" in ringed[0].message
    assert [ring.number for ring in ringed] == list(range(1, 13))


def test_lost_and_widened_places_are_ringed_without_any_finding():
    lost, widened = box(3, 3, 3.2, 3.3), box(20, 10, 20.5, 10.2)
    first, second = rings(_scene(box(5, 5, 9, 9), box(5, 5, 9, 9), lost=lost, widened=widened))
    assert (first.level, first.box_mm) == ("lost", lost.bounds)
    assert (second.level, second.box_mm) == ("widened", widened.bounds)
