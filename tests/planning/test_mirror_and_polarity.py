"""Back-worked pieces and raised artwork, judged by the written program and by set algebra."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import MultiPoint, MultiPolygon, Point, Polygon, box

from jobmaker import MARK, REACH, drawing, make_job, plan, plate
from planning.plain_reading import distance_to, lit, read_steps
from shapes import glyph_f
from stopout.job.record import Coat, Hole, Shows
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job
from stopout.values import Finding, Level

WIDTH = 12.0
WITHIN = 0.002
GLYPH = glyph_f(2.0, 2.0, height=6.0, stroke=0.9)
COATS = (
    Coat(paint="acrylic-lacquer", colour="black", shows=Shows(kind="rest")),
    Coat(paint="acrylic-lacquer", colour="ivory", shows=Shows(kind="dark")),
)


def sign(**changes):
    """A clear blank worked on its back, black with ivory lettering, nothing etched."""
    blank = plate(material="acrylic-cast", worked_side="back", thickness_mm=3.0, **changes)
    return make_job(blank=blank, coats=COATS, etch=None)


def mirrored(points):
    """Points seen from the other side: x about the blank's vertical centre line."""
    return np.asarray(points) * (-1, 1) + (WIDTH, 0)


def flip(region):
    return shapely.transform(region, mirrored)


def path_of(coat, job):
    return lit(read_steps(coat.program, job.machine))


def edge_points(region, spacing=0.05):
    """Points of a region's edge, none within half a mark's round of a convex corner."""
    points = shapely.get_coordinates(shapely.segmentize(region.boundary, spacing))
    corners = shapely.get_coordinates(region.boundary)
    far = np.hypot(*(points[:, None] - corners[None]).transpose(2, 0, 1)).min(axis=1) > MARK
    return points[far]


def test_a_glyph_on_the_back_is_the_mirror_image_about_the_blank_s_centre_line():
    job = sign()
    (coat,) = plan(GLYPH, job).coats
    path = path_of(coat, job)
    # The mirrored glyph's edge is half a mark from the path; the glyph's own edge is not.
    gap = distance_to(path, mirrored(edge_points(GLYPH))) - MARK / 2
    assert np.abs(gap).max() <= WITHIN
    wrong = distance_to(path, edge_points(GLYPH)) - MARK / 2
    assert np.abs(wrong).max() > 1
    assert shapely.hausdorff_distance(coat.target, flip(GLYPH)) < 1e-9


def test_the_back_s_opening_is_the_mirrored_opening_of_the_front():
    job = sign()
    (back,) = plan(GLYPH, job).coats
    (front,) = plan(GLYPH, make_job(etch=None)).coats
    other = flip(front.opening)
    assert shapely.hausdorff_distance(back.opening.boundary, other.boundary) <= WITHIN
    assert back.opening.symmetric_difference(other).area < 0.001 * other.length


def test_the_back_s_program_clears_what_the_mirrored_front_s_program_clears():
    job = sign()
    (back,) = plan(GLYPH, job).coats
    front_job = make_job(etch=None)
    (front,) = plan(GLYPH, front_job).coats
    there = path_of(front, front_job)
    turned = np.column_stack([WIDTH - there[:, 0], there[:, 1], WIDTH - there[:, 2], there[:, 3]])
    rng = np.random.default_rng(7)
    sample = rng.uniform((0, 0), (WIDTH, 10), (4000, 2))
    reach = MARK / 2
    by_back, by_front = distance_to(path_of(back, job), sample), distance_to(turned, sample)
    doubtful = (np.abs(by_back - reach) < WITHIN) | (np.abs(by_front - reach) < WITHIN)
    assert ((by_back < reach) == (by_front < reach))[~doubtful].all()


def test_a_front_worked_piece_is_not_mirrored():
    (coat,) = plan(GLYPH).coats
    assert shapely.hausdorff_distance(coat.target, GLYPH) < 1e-9


def test_places_on_a_back_worked_piece_are_as_worked_and_told_as_seen():
    stroke = box(2, 4, 2.06, 8)
    made = plan(stroke.union(box(6, 4, 8, 8)), sign())
    (thin,) = [finding for finding in made.findings if finding.code == "part-lost"]
    assert thin.at_mm == pytest.approx((WIDTH - 2.03, 6), abs=2.1)
    assert thin.at_mm[0] == pytest.approx(WIDTH - 2.03, abs=0.01)
    assert "(2.03," in thin.message
    assert "as seen" in thin.message


def test_what_the_artwork_s_reader_found_stands_where_the_back_worked_piece_is():
    found = Finding(code="speck", level=Level.NOTE, message="a speck", at_mm=(2.0, 3.0))
    for job, x_mm in ((make_job(), 2.0), (sign(), WIDTH - 2)):
        made = plan_job(job, drawing(GLYPH, findings=(found,)), knowledge_for(job))
        assert [one.at_mm for one in made.findings if one.code == "speck"] == [(x_mm, 3.0)]


def test_a_hole_of_a_back_worked_blank_is_mirrored_with_the_artwork():
    made = plan(GLYPH, sign(holes=(Hole(at_mm=(10.0, 8.0), diameter_mm=1.0),)))
    assert not made.face.covers(Point(WIDTH - 10, 8))
    assert made.face.covers(Point(10, 8))


def raised(dark, *, field, holes=()):
    job = make_job(
        blank=plate(holes=holes),
        artwork={"dark": "raised", "field_mm": field},
    )
    return job, plan(dark, job)


def test_raised_artwork_recesses_the_complement_within_the_field():
    dark = Point(6, 5).buffer(2, quad_segs=96)
    job, made = raised(dark, field=1.0)
    (coat,) = made.coats
    expected = box(1, 1, 11, 9).difference(dark)
    assert coat.target.symmetric_difference(expected).area < 1e-6
    path = path_of(coat, job)
    circle = np.column_stack([np.cos(a := np.linspace(0, 6.28, 800)), np.sin(a)]) * 2 + (6, 5)
    assert np.abs(distance_to(path, circle) - REACH).max() <= WITHIN
    ends = path.reshape(-1, 2)
    assert ends.min(axis=0) == pytest.approx((1 + REACH, 1 + REACH), abs=WITHIN)
    assert ends.max(axis=0) == pytest.approx((11 - REACH, 9 - REACH), abs=WITHIN)


def test_recessed_and_raised_share_the_field_between_them():
    dark = glyph_f(3.0, 2.0, height=6.0, stroke=0.9)
    _, one = raised(dark, field=1.0)
    other = plan(dark)
    first, second = one.coats[0], other.coats[0]
    whole = box(1, 1, 11, 9)
    assert first.target.union(second.target).symmetric_difference(whole).area < 1e-6
    assert first.target.intersection(second.target).area < 1e-9
    assert first.finished.intersection(second.finished).area < 1e-3 * dark.length


def test_the_field_keeps_its_margin_from_holes_too():
    holes = (Hole(at_mm=(3.0, 3.0), diameter_mm=1.6), Hole(at_mm=(9.5, 7.5), diameter_mm=1.0))
    job, made = raised(box(5, 4, 7, 6), field=0.8, holes=holes)
    (coat,) = made.coats
    path = path_of(coat, job)
    for hole in holes:
        angle = np.linspace(0, 2 * np.pi, 600)
        ring = np.column_stack([np.cos(angle), np.sin(angle)])
        rim = ring * (hole.diameter_mm / 2 + 0.8) + hole.at_mm
        inside = (rim > 0.8 + REACH).all(axis=1) & (rim < np.array([11.2, 9.2]) - REACH).all(axis=1)
        # The field's edge lies one margin outside the hole's rim: just a reach from the path.
        assert np.abs(distance_to(path, rim[inside]) - REACH).max() <= WITHIN
        # The larger hole's circle touches no other edge: nothing is recessed within it.
        assert distance_to(path, [hole.at_mm])[0] >= hole.diameter_mm / 2 + 0.8 + REACH - WITHIN


def test_recessed_artwork_is_cut_at_the_blank_s_edge_and_its_holes():
    holes = (Hole(at_mm=(6.0, 5.0), diameter_mm=2.0),)
    allowed = {"may_be_cut": True}
    made = plan(box(4, 3, 14, 7), make_job(blank=plate(holes=holes), artwork=allowed))
    (coat,) = made.coats
    rest = MultiPolygon([coat.target]) if isinstance(coat.target, Polygon) else coat.target
    assert rest.bounds == pytest.approx((4, 3, 12, 7), abs=1e-6)
    assert not rest.intersects(Point(6, 5).buffer(0.99))
    (cut,) = [finding for finding in made.findings if finding.code == "cut-off"]
    assert cut.level == "note"
    assert "2.0 mm past the blank" in cut.message
    ends = path_of(coat, made.job).reshape(-1, 2)
    assert MultiPoint(ends).distance(Point(6, 5)) >= 1 + REACH - WITHIN


def test_what_the_arithmetic_leaves_at_a_hole_s_rim_is_no_narrow_land():
    holes = (Hole(at_mm=(6.0, 5.0), diameter_mm=2.0),)
    made = plan(box(3, 3, 9, 7), make_job(blank=plate(holes=holes)))
    # The lands are the wide rim of the blank and nothing else.
    assert made.coats[0].finished_land_mm > 1.0
