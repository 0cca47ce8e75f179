"""Whose colour goes where: small signs from SVG text to their stops, one for each mistake."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import ImageColor
from shapely.geometry import Point, box

from stopout.artwork.reading import read_artwork
from stopout.errors import PlanError
from stopout.job.record import ArtworkRequest, Blank, Coat, Shows
from stopout.planning.signs import tints
from stopout.planning.signs.claims import claims_of
from stopout.planning.signs.compare import compare_front
from stopout.planning.signs.layers import clearings
from stopout.planning.signs.shows import front_view
from stopout.planning.signs.tints import difference, luminance, tint_of
from stopout.planning.signs.tints import lab as lab_of
from stopout.planning.signs.verdicts import claim_findings, colour_findings, unseen_findings
from stopout.values import Level

FACE = box(0, 0, 30, 20)
BLANK = Blank(
    material="acrylic-cast", width_mm=30, height_mm=20, thickness_mm=3, worked_side="back"
)
WORDS = '<path d="M6 6h2v4h-2zM10 6h2v4h-2zM14 6h2v4h-2z" fill="{}"/>'
GROUND = '<rect width="30" height="20" fill="{}"/>'


def coat(colour, kind, value="", **changes):
    return Coat(
        paint="acrylic-lacquer", colour=colour, shows=Shows(kind=kind, value=value), **changes
    )


def judged(body, *coats):
    """Return the front, the findings and the comparison of a sign."""
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="20mm" '
        f'viewBox="0 0 30 20">{body}</svg>'
    )
    drawing = read_artwork(svg.encode(), ArtworkRequest(file="a.svg"), BLANK, name="a.svg")
    claims = claims_of(coats, drawing, FACE)
    views = front_view(FACE, clearings(claims.shown, method="one-by-one", error_mm=0))
    compared = compare_front(drawing.picture, views, coats, FACE)
    found = [
        *claim_findings(coats, claims, drawing),
        *unseen_findings(coats, views),
        *colour_findings(coats, compared),
    ]
    return views, found, compared


def stops(found):
    return [finding.code for finding in found if finding.level is Level.STOP]


RING = (
    '<rect x="8" y="4" width="12" height="12"/><g fill="none" stroke="#c8102e" stroke-width="2">'
    '<circle cx="14" cy="10" r="7.5"/><path d="M8.7 15.3L19.3 4.7"/></g>'
)


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 0, 2)])
def test_a_dark_red_that_is_named_is_not_swallowed_by_dark(order):
    coats = [coat("white", "rest"), coat("black", "dark"), coat("red", "fill", "#c8102e")]
    views, found, compared = judged(RING, *(coats[k] for k in order))
    assert stops(found) == []
    red = views[order.index(2)]
    # Ring of radii 6.5 and 8.5 and a bar of 2 within it: closed form of their union, to 1 %.
    assert red.area == pytest.approx(np.pi * (8.5**2 - 6.5**2) + 2 * 13.0, rel=0.01)
    assert {row.colour for row in compared.colours} == {"#ffffff", "page", "#c8102e", "#000000"} - (
        {"#ffffff"}
    )


def test_white_words_and_a_frame_that_no_coat_shows_are_two_stops():
    frame = (
        '<rect x="2" y="2" width="26" height="16" fill="none" stroke="#f2c200" stroke-width="1"/>'
    )
    body = GROUND.format("#1f4e8c") + frame + WORDS.format("#fff")
    _, found, compared = judged(body, coat("blue", "fill", "#1f4e8c"), coat("red", "rest"))
    assert stops(found).count("colour-lost") == 2
    lost = {row.colour: row for row in compared.colours if row.is_wrong}
    assert set(lost) == {"#ffffff", "#f2c200"}
    assert lost["#ffffff"].drawn_mm2 == pytest.approx(24.0, rel=0.02)
    assert lost["#f2c200"].seen_mm2 == 0


def test_coats_the_other_way_round_are_a_stop_unless_the_job_says_so():
    body = GROUND.format("#000") + WORDS.format("#f1e7c8")
    wrong = (coat("black", "rest"), coat("ivory", "dark"))
    assert "colour-differs" in stops(judged(body, *wrong)[1])
    meant = tuple(coat(c.colour, c.shows.kind, recolour=True) for c in wrong)
    assert stops(judged(body, *meant)[1]) == []
    right = (coat("ivory", "rest"), coat("black", "dark"))
    assert stops(judged(body, *right)[1]) == []


def test_line_art_needs_the_word_in_one_coat_only():
    line_art = WORDS.format("#000")
    found = judged(line_art, coat("black", "rest"), coat("ivory", "dark"))[1]
    assert stops(found)
    # The other way named, followed to the letter.
    assert all('Let coat 1 show "dark" and coat 2 show "rest"; or' in f.remedy for f in found)
    assert stops(judged(line_art, coat("black", "dark"), coat("ivory", "rest"))[1]) == []
    ivory = coat("ivory", "dark", recolour=True)
    assert stops(judged(line_art, coat("black", "rest"), ivory)[1]) == []


def test_white_counters_inside_a_group_stay_open():
    body = (
        '<g id="mark"><rect x="4" y="4" width="10" height="10"/>'
        '<rect x="7" y="7" width="4" height="4" fill="#fff"/></g>'
    )
    views, found, _ = judged(body, coat("white", "rest"), coat("black", "id", "mark"))
    assert stops(found) == []
    assert views[0].contains(Point(9, 11))
    assert views[1].area == pytest.approx(84.0, rel=1e-6)


def test_faint_red_is_not_full_red():
    body = '<rect x="4" y="4" width="10" height="10" fill="#c8102e" fill-opacity="0.2"/>'
    with pytest.raises(PlanError, match="f4cfd5"):
        judged(body, coat("white", "rest"), coat("red", "fill", "#c8102e"))


def test_a_gradient_is_one_stop_with_what_to_do():
    body = (
        '<defs><linearGradient id="g"><stop stop-color="#c8102e"/><stop offset="1"/>'
        '</linearGradient></defs><rect x="4" y="4" width="20" height="10" fill="url(#g)"/>'
    )
    _, found, _ = judged(body, coat("white", "rest"), coat("black", "dark"))
    assert "sign-tones" in stops(found)


@pytest.mark.parametrize("fill", ["#fff", "#f1e7c8"])
def test_light_lettering_alone_is_read_where_a_coat_names_it(fill):
    full = "#ffffff" if fill == "#fff" else fill
    views, found, _ = judged(WORDS.format(fill), coat("black", "rest"), coat(full, "fill", full))
    assert stops(found) == []
    assert views[1].area == pytest.approx(24.0, rel=1e-6)


def test_light_lettering_alone_is_refused_where_a_coat_asks_for_dark():
    with pytest.raises(PlanError, match=r"nothing in .* is dark"):
        judged(WORDS.format("#fff"), coat("black", "rest"), coat("white", "dark"))


def test_a_bare_page_in_the_colour_of_the_ground_takes_no_coat_from_what_is_drawn():
    """Ivory by its CSS name lies nearer to white than to the ivory drawn; the page is blue here."""
    coats = [coat("blue", "rest"), coat("ivory", "fill", "#f1e7c8")]
    _, found, compared = judged(WORDS.format("#f1e7c8"), *coats)
    assert stops(found) == []
    assert {row.colour: row.coats for row in compared.colours} == {"page": (1,), "#f1e7c8": (2,)}


def test_claims_that_overlap_are_told_and_a_coat_that_shows_nowhere_is_a_stop():
    body = '<rect id="one" class="two" x="4" y="4" width="10" height="10"/>'
    _, found, _ = judged(
        body, coat("white", "rest"), coat("black", "id", "one"), coat("black", "class", "two")
    )
    assert [finding.code for finding in found] == ["claims-overlap", "coat-unseen"]
    assert "100.00 mm^2" in found[0].message


def test_a_colour_whose_name_nobody_knows_is_told():
    body = '<rect x="4" y="4" width="10" height="10" fill="#c8102e"/>'
    _, found, compared = judged(body, coat("white", "rest"), coat("mill", "fill", "#c8102e"))
    assert [finding.code for finding in found] == ["tint-unknown"]
    assert found[0].remedy.endswith("or a RAL number.")
    assert compared.tints[1] == "#c8102e"
    (found,) = judged(body, coat("white", "rest"), coat("ivry", "fill", "#c8102e"))[1]
    assert found.remedy.endswith("such as ivory.")


@pytest.mark.parametrize(
    ("one", "other", "printed"),
    [
        # Sharma, Wu and Dalal 2005, table 1, pairs 1, 17, 25 and 34.
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
        ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
    ],
)
def test_colour_differences_are_the_published_ones(one, other, printed):
    from stopout.planning.signs.tints import _ciede2000

    assert _ciede2000(one, other) == pytest.approx(printed, abs=5e-5)


def test_tints_of_names_and_their_lightness():
    assert tint_of("#F00") == "#ff0000"
    assert tint_of("signal red") == "#ff0000"
    assert tint_of("Light Gray") == "#d3d3d3"
    assert tint_of("mill red 7") is None
    assert difference("#808080", "#808080") == 0
    # CIELAB of the sRGB primaries under D65, as tabulated with the standard: L* 53.24 for red.
    assert lab_of("#ff0000")[0] == pytest.approx(53.24, abs=0.01)
    assert luminance("#808080") == pytest.approx(0.2159, abs=1e-4)


def test_a_name_keeps_its_tint_after_somebody_has_drawn_by_it():
    # Pillow puts numbers into its table of names as they are asked for.
    assert ImageColor.getrgb("black") == (0, 0, 0)
    assert ImageColor.getrgb("tomato") == (255, 99, 71)
    tints._css.cache_clear()
    assert [tint_of("black"), tint_of("tomato")] == ["#000000", "#ff6347"]
