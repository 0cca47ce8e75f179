"""A clear sheet lit through one edge: even brightness, bands, mirror, stops, the sheet's words."""

from __future__ import annotations

import re

import numpy as np
import pytest
from lxml import html
from shapely.geometry import MultiPolygon, Polygon, box

from jobmaker import codes, make_job, mark, plan, plate
from planning.plain_reading import lit, read_steps
from stopout.job.record import Coat, EdgeLight
from stopout.library.plan_files import sheet_files
from stopout.outcome import closed_gaps
from stopout.plan_file import summarise
from stopout.planning.opening.edge_light import share_of_density
from stopout.planning.plan import LightPlan

BLOCK = box(5.0, 5.0, 17.0, 19.0)


def lit_job(edge="bottom", *, far=2.0, material="acrylic-cast", wavelength_nm=10600.0):
    """A 22 x 24 mm sheet; a round mark of 0.1 mm."""
    return make_job(
        blank=plate(size=(22.0, 24.0), material=material, worked_side="back", thickness_mm=6.0),
        coats=(Coat(paint="", colour="frosted"),),
        etch=None,
        light=EdgeLight(edge=edge, far=far),
        machine={"wavelength_nm": wavelength_nm, "power_w": 30.0, "step_mm": 0.005},
        clearing={"mark_mm": mark(0.1)},
    )


def marked(dark=BLOCK, **changes):
    return plan(dark, lit_job(**changes))


@pytest.mark.parametrize("far", [1.0, 1.5, 2.0, 4.0])
def test_the_density_keeps_a_guide_that_loses_light_to_marks_alone_evenly_bright(far):
    """dF/dx = -a c F stepped through by hand; c F must stay what it was (flux balance, derived)."""
    x = np.linspace(0.0, 1.0, 20001)
    density = np.array([share_of_density(at, far) for at in x])
    loss = 1 - 1 / far
    middle = (density[1:] + density[:-1]) / 2
    flux = np.exp(-np.concatenate([[0.0], np.cumsum(loss * middle * np.diff(x))]))
    np.testing.assert_allclose(density * flux, 1.0, rtol=1e-6)
    assert density[-1] == pytest.approx(far)


def line_places(made, axis):
    """Distinct places across the lines of the written program that are long and straight."""
    segments = lit(read_steps(made.coats[0].program, made.job.machine))
    starts, ends = segments[:, :2], segments[:, 2:]
    other = 1 - axis
    along = (np.abs(ends[:, axis] - starts[:, axis]) < 1e-9) & (
        np.abs(ends[:, other] - starts[:, other]) > 5.0
    )
    return np.unique(np.round(starts[along, axis], 4))


@pytest.mark.parametrize(
    ("edge", "axis", "rises"),
    # As worked the sheet is mirrored: what is lit at the left as seen is lit at the right.
    [("bottom", 1, False), ("top", 1, True), ("left", 0, True), ("right", 0, False)],
)
def test_lines_lie_wide_near_the_light_and_close_far_from_it(edge, axis, rises):
    gaps = np.diff(line_places(marked(edge=edge), axis))[2:-2]
    near, far = (gaps[-1], gaps[0]) if rises else (gaps[0], gaps[-1])
    # Aims of the outer bands by the closed form: 0.1 mm lines, 3 or more bands, far = 2.
    assert near == pytest.approx(0.18, abs=0.015)
    assert far == pytest.approx(0.115, abs=0.015)
    steps = np.diff(gaps)
    assert (steps >= -1e-6).all() if rises else (steps <= 1e-6).all()


def test_each_band_of_a_bold_shape_is_marked_as_densely_as_aimed():
    light = marked().light
    assert isinstance(light, LightPlan)
    assert 3 <= len(light.bands) <= 6
    for band in light.bands:
        assert band.covered == pytest.approx(band.aimed, rel=0.05)
    assert "light-uneven" not in codes(marked())


def test_a_thin_frame_is_mostly_outline_and_the_plan_says_so():
    frame = BLOCK.difference(BLOCK.buffer(-0.2, join_style="mitre"))
    assert "light-uneven" in codes(marked(frame, far=4.0), "caution")


def test_the_marking_stays_within_the_drawing_and_loses_nothing():
    made = marked(BLOCK.difference(box(9, 9, 13, 13)))
    outcome = made.coats[0].outcome
    assert (outcome.lost, outcome.merged) == (0, 0)
    assert outcome.worst_outside_mm < 0.002
    assert made.coats[0].program is not None
    assert "light-guess" in codes(made, "caution")


@pytest.mark.parametrize(
    ("material", "wavelength_nm", "why"),
    [
        ("acrylic-extruded", 10600.0, "stays clear"),
        ("acrylic-cast", 450.0, "passes"),
        ("polycarbonate", 10600.0, ""),
        ("glass", 10600.0, ""),
        ("acrylic-cast", 3000.0, ""),
    ],
)
def test_what_does_not_frost_white_is_stopped_with_the_reason(material, wavelength_nm, why):
    made = marked(box(5, 5, 12, 15), material=material, wavelength_nm=wavelength_nm)
    (told,) = [f for f in made.findings if f.code == "light-not-frosted"]
    assert why in told.message
    assert made.is_stopped
    assert made.coats[0].program is None
    assert made.bounds_program is None


def test_plan_json_gives_the_bands():
    found = summarise(marked())
    assert found["light"]["edge"] == "bottom"
    assert {"near_mm", "far_mm", "spacing_mm", "aimed", "covered"} == set(
        found["light"]["bands"][0]
    )
    assert found["light"]["bands"][0]["near_mm"] == pytest.approx(5.0)
    assert found["light"]["bands"][-1]["far_mm"] == pytest.approx(19.0)
    assert found["front"] is None


def test_the_sheet_speaks_of_marks_and_warns_of_the_vapour():
    page = sheet_files(marked(), date="2025-03-14")["sheet.html"]
    tree = html.fromstring(page)
    for gone in tree.xpath("//script|//style"):
        gone.drop_tree()
    text = " ".join(tree.text_content().split())
    # The class of the beam is that of any beam that clears paint: a sentence of the table.
    plain = text.replace("any beam that clears paint", "")
    assert re.findall(r"\b(paints?|coats?|etch\w*|resist|bath|lacquer)\b", plain, re.I) == []
    assert "vapour burns" in text
    assert "Mark an offcut" in text


def test_gaps_narrower_than_the_lines_are_apart_are_closed_and_counters_stay():
    sheet = Polygon(
        box(0, 0, 10, 10).exterior.coords,
        [box(1, 1, 9, 1.08).exterior.coords, box(4, 4, 6, 6).exterior.coords],
    )
    closed = closed_gaps(MultiPolygon([sheet]), 0.1)
    assert closed.area == pytest.approx(100.0 - 4.0, abs=1e-6)
    assert closed_gaps(MultiPolygon([sheet]), 0.05).area == pytest.approx(sheet.area, abs=1e-6)
