"""Past the sheet's edge: closed forms on a rectangle, and a sheet that lies off its place."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from effort import tries
from jobmaker import codes, drawing, make_job
from stopout.job.record import Blank, Coat, Registration, Shows
from stopout.library.knowledge import knowledge_for
from stopout.mask import blank_region, count_holes
from stopout.plan_file import summarise
from stopout.planning import plan_job
from stopout.planning.signs import bleed
from stopout.planning.signs.bleed import edge_sliver_mm, overrun, without_slivers
from stopout.planning.signs.grid import on_grid, union
from stopout.values import DrawnShape

FACE = box(0, 0, 20, 12)


def test_a_window_at_one_edge_is_cleared_straight_out_from_it():
    out = overrun(box(4, 8, 10, 12), FACE, 0.5)
    assert out.area == pytest.approx(6 * 0.5, rel=1e-3)
    assert out.bounds == pytest.approx((4, 12, 10, 12.5), abs=2e-3)


def test_the_whole_face_gets_a_rim_with_its_corners():
    out = overrun(FACE, FACE, 0.5)
    # Four sides and four quarter discs (the closed form; chords lose under a per cent of these).
    assert out.area == pytest.approx(2 * (20 + 12) * 0.5 + math.pi * 0.25, rel=0.01)
    assert not out.intersects(box(1, 1, 19, 11))


def test_what_stays_inside_is_left_alone_and_a_hole_is_an_edge_too():
    assert overrun(box(4, 4, 10, 8), FACE, 0.5).is_empty
    holed = FACE.difference(Point(6, 6).buffer(1.5))
    out = overrun(box(4, 4, 10, 8).intersection(holed), holed, 0.5)
    assert out.area == pytest.approx(math.pi * (1.5**2 - 1.0**2), rel=0.03)


def test_the_line_that_stays_without_overrun_is_as_wide_as_the_sheet_lies_off():
    wanted = box(0, 0, 20, 6)
    width, at = edge_sliver_mm(wanted, wanted, FACE, placing_mm=0.4)
    assert width == pytest.approx(0.4, abs=0.01)
    assert at is not None
    past = shapely.union_all([wanted, overrun(wanted, FACE, 0.45)])
    assert edge_sliver_mm(wanted, past, FACE, placing_mm=0.4)[0] == 0


def ivory_lower_half(registration, **changes):
    """A black upper half and an ivory lower one: the clearing reaches three edges."""
    half = box(0, 0, 20, 6)
    job = make_job(
        blank=Blank(
            material="acrylic-cast",
            width_mm=20.0,
            height_mm=12.0,
            thickness_mm=3.0,
            worked_side="back",
        ),
        coats=(
            Coat(paint="acrylic-lacquer", colour="black", shows=Shows(kind="rest")),
            Coat(
                paint="acrylic-lacquer", colour="ivory", shows=Shows(kind="fill", value="#f1e7c8")
            ),
        ),
        etch=None,
        registration=registration,
        limits={"edge_tolerance_mm": 0.05},
        **changes,
    )
    shape = DrawnShape(fill="#f1e7c8", ident="", classes=(), region=half)
    return plan_job(job, drawing(half, shapes=(shape,)), knowledge_for(job))


def test_a_sheet_that_lies_off_keeps_no_line_of_paint():
    made = ivory_lower_half(Registration(placing_mm=0.4))
    (coat,) = made.coats
    front = summarise(made)["front"]
    assert front["bleed_mm"] == pytest.approx(0.45)
    assert front["edge_sliver_mm"] == 0
    for dx, dy in ((0.3, 0.2), (-0.3, -0.2), (0.28, -0.28)):
        stays = box(0, 0, 20, 5).difference(affinity.translate(coat.opening, dx, dy))
        assert stays.area < 0.02
    assert coat.program is not None


def test_a_clamp_at_the_edge_leaves_it_as_it_was_and_is_told():
    # The blank lies at (30, 30); clamps lie at its lower edge, where lines that stop there pass.
    machine = {"keep_outs_mm": ((25.0, 20.0, 55.0, 29.75),)}
    made = ivory_lower_half(Registration(placing_mm=0.4), machine=machine)
    assert "edge-sliver" in codes(made, "caution")
    assert summarise(made)["front"]["edge_sliver_mm"] == pytest.approx(0.4, abs=0.05)
    assert not made.is_stopped


@given(seed=st.integers(0, 10_000))
@settings(max_examples=tries(30))
def test_what_is_cleared_past_edges_hangs_on_no_hole_or_part_that_lies_elsewhere(seed):
    """Held to the same with all of the region; the face has drilled holes."""
    rng = np.random.default_rng(seed)
    face = box(0, 0, 30, 20)
    for x, y in rng.uniform((2, 2), (28, 18), (4, 2)):
        face = face.difference(Point(x, y).buffer(rng.uniform(0.3, 2)))
    cleared = Polygon()
    for _ in range(10):
        disc = Point(*rng.uniform((-1, -1), (31, 21))).buffer(rng.uniform(0.3, 9), quad_segs=4)
        cleared = cleared.difference(disc) if rng.random() < 0.4 else cleared.union(disc)
    cleared = on_grid(cleared.intersection(face))
    found = bleed.overrun(cleared, face, 0.5)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bleed, "_beside", lambda region, _: region)
        plain = bleed.overrun(cleared, face, 0.5)
    assert found.symmetric_difference(plain).buffer(-0.00025).is_empty


def test_no_sliver_stays_between_a_region_and_what_is_cleared_past_the_edge():
    """Corners rounded 0.2 um more than the sheet: the grid pinches off what is no counter."""
    face, art = (
        blank_region(width_mm=20, height_mm=12, corner_radius_mm=radius) for radius in (3, 3.0002)
    )
    cleared = on_grid(art.difference(Point(10, 6).buffer(0.01)).intersection(face))
    past = union([cleared, overrun(cleared, face, 0.5)])
    whole = without_slivers(past)
    assert count_holes(shapely.get_parts(past)) > 1
    assert count_holes(shapely.get_parts(whole)) == 1
    assert whole.area == pytest.approx(past.area, abs=0.001)
