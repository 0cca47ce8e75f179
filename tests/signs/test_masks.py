"""A sign without a laser: cut masks, one for each coat, held against the same front."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
import shapely
from shapely.geometry import Point, box

from jobmaker import codes, drawing, make_job
from stopout.errors import StopoutError
from stopout.job.record import Blank, Coat, Hole, Registration, Shows, Stencil
from stopout.job.route import Route
from stopout.jobs import read_job
from stopout.library.knowledge import knowledge_for
from stopout.library.plan_files import _work_files
from stopout.mask import mirror_left_right
from stopout.planning import plan_job
from stopout.sheet.contents.hours import spans
from stopout.sheet.stages.mask import mask_laid
from stopout.sheet.stages.paint import paint_amounts
from stopout.values import DrawnShape

BAR = box(8, 10, 40, 18)


@pytest.fixture(scope="module")
def made():
    """A white sign with a red bar: the white goes on over a mask that keeps the bar open."""
    job = make_job(
        blank=Blank(
            material="acrylic-cast",
            width_mm=60.0,
            height_mm=30.0,
            thickness_mm=3.0,
            worked_side="back",
            holes=(Hole(at_mm=(5.0, 5.0), diameter_mm=4.0),),
        ),
        coats=(
            Coat(paint="acrylic-lacquer", colour="white", shows=Shows(kind="rest")),
            Coat(paint="acrylic-lacquer", colour="red", shows=Shows(kind="fill", value="#c8102e")),
        ),
        etch=None,
        registration=Registration(error_mm=0.3),
        limits={"edge_tolerance_mm": 0.05},
    )
    job = replace(job, method="cut-film", stencil=Stencil(), machine=None, clearing=None)
    shape = DrawnShape(fill="#c8102e", ident="", classes=(), region=BAR)
    return plan_job(job, drawing(BAR, shapes=(shape,)), knowledge_for(job))


def test_the_mask_covers_what_the_next_coat_shows_mirrored(made):
    (coat,) = made.coats
    as_worked = mirror_left_right(BAR, width_mm=60)
    assert coat.drawn.symmetric_difference(as_worked).area < 0.05
    assert not made.is_stopped
    assert made.front.views[1].symmetric_difference(as_worked).area < 0.05
    assert {"mask-pieces"} <= set(codes(made))
    assert "spread-over-coat" not in codes(made)


def test_the_cut_file_has_the_outline_corners_and_hole_to_lay_it_by(made):
    text = _work_files(made)["cut-1.svg"].decode()
    groups = dict(re.findall(r'<g id="(\w+)"[^>]*>(.*?)</g>', text, re.DOTALL))
    assert set(groups) == {"cut", "peel", "border", "register"}
    assert groups["peel"].strip() == ""
    points = [
        (float(x), float(y))
        for x, y in re.findall(r"[ML](-?[\d.]+),(-?[\d.]+)", groups["register"])
    ]
    cloud = shapely.multipoints(points)
    # As worked, y down: the hole at (5, 5) as seen lies at (55, 25).
    assert cloud.distance(Point(55, 25 - 2.0)) < 0.3
    assert cloud.bounds == pytest.approx((-4, -4, 64, 34), abs=0.01)


def test_the_sheet_says_what_to_weed_and_what_to_leave(made):
    text = repr(mask_laid(made, made.coats[0]))
    assert "Weed the GROUND" in text
    assert "1 piece(s)" in text
    assert "BACKWARDS" in text


def test_a_stencil_beside_a_laser_is_refused_in_a_sentence(tmp_path):
    from importlib import resources

    starter = resources.files("stopout.cli") / "starters" / "sign" / "job.toml"
    path = tmp_path / "job.toml"
    path.write_text(starter.read_text(encoding="utf-8") + "\n[stencil]\n", encoding="utf-8")
    with pytest.raises(StopoutError, match="no place beside"):
        read_job(path)


def test_the_hours_begin_with_the_mask_and_the_paint_of_both_coats_is_reckoned(made):
    assert [span.what for span in spans(made)] == [
        "Lay mask 1",
        "Spray 1, white",
        "Spray 2, red",
        "Finish",
    ]
    assert "white" in repr(paint_amounts(made))
    assert made.job.route == Route(makes="sign", opens="knife")
