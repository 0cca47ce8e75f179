"""Contrast of a sign's colours: published figures, and lettering on grounds."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from effort import tries
from jobmaker import plate
from planning.verdict.spoiled import planned, svg, words
from stopout.job.record import Coat, Shows
from stopout.planning.signs import contrast as contrast_module
from stopout.planning.signs.compare import compare_front
from stopout.planning.signs.contrast import contrast, contrast_findings, contrast_ratio
from stopout.planning.signs.pixels import first_holding
from stopout.planning.signs.tints import tint_of
from stopout.values import ColourPicture

FACE = box(0, 0, 60, 20)
LETTERS = shapely.union_all(
    [box(x, 6, x + w, 13) for x, w in ((6, 1), (9, 1.2), (12.5, 1), (16, 1.4), (20, 1))]
)


def _parts(region):
    return [list(shapely.get_parts(region))]


def found(letters, ground, views=None):
    views = views or [FACE.difference(LETTERS), LETTERS]
    tints = [tint_of(ground), tint_of(letters)]
    return contrast_findings([ground, letters], tints, views, _parts(views[1]), is_glossy=True)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # WCAG 2.1: black on white is 21; #767676 on white is the well-known 4.54.
        ("#000000", "#ffffff", 21.0),
        ("#767676", "#ffffff", 4.54),
        # Safety colours by the same formula: black on signal yellow, white on signal blue.
        ("#000000", "#f9a800", 10.63),
        ("#ffffff", "#005387", 8.12),
    ],
)
def test_contrast_ratios_are_the_published_ones(one, other, ratio):
    assert contrast_ratio(one, other) == pytest.approx(ratio, abs=0.01)
    assert contrast_ratio(other, one) == pytest.approx(ratio, abs=0.01)


def test_the_share_is_that_of_the_equation():
    # (B1 - B2) / B1 with B1 = 1 and the luminance 0.2159 of middle grey.
    assert contrast("#808080", "#ffffff") == pytest.approx(1 - 0.2159, abs=1e-4)
    assert contrast("#000000", "#000000") == 0


def test_dark_blue_lettering_on_black_is_told_with_its_place():
    (low, glossy) = found("navy", "#101010")
    assert (low.code, low.level) == ("contrast-low", "caution")
    assert "navy lettering 7.0 mm high on #101010" in low.message
    assert FACE.contains(shapely.Point(low.at_mm))
    assert glossy.code == "front-glossy"


def test_black_beside_black_is_told_though_it_is_no_lettering():
    bar = box(10, 4, 50, 16)
    (only,) = found("black", "black", [FACE.difference(bar), bar])
    assert only.code == "contrast-low"
    assert "1.00 to 1" in only.message


def test_white_on_black_and_ivory_on_blue_are_fine():
    for letters, ground in (("white", "black"), ("ivory", "RAL 5005"), ("black", "RAL 1003")):
        assert [f.code for f in found(letters, ground)] == ["front-glossy"]


def test_a_window_to_light_has_no_tint_and_is_not_judged():
    views = [FACE.difference(LETTERS), LETTERS]
    parts = _parts(LETTERS)
    assert (
        contrast_findings(["black", "clear"], ["#000000", None], views, parts, is_glossy=True) == []
    )


def in_three(seed):
    """Parts of a face between three, by discs."""
    rng = np.random.default_rng(seed)
    first, second = (
        shapely.union_all(
            [Point(*rng.uniform((0, 0), (60, 20))).buffer(rng.uniform(1, 8)) for _ in range(6)]
        ).intersection(FACE)
        for _ in range(2)
    )
    return [FACE.difference(first).difference(second), first.difference(second), second]


@given(seed=st.integers(0, 10_000))
@settings(max_examples=tries(24))
def test_the_coat_that_the_count_of_pixels_names_shows_most_of_a_colour_by_overlay(seed):
    drawn, views = in_three(seed), in_three(seed + 1)
    fills = ["#a00000", "#00a000", "#0000a0"]
    tones = np.array([[int(fill[k : k + 2], 16) for k in (1, 3, 5)] for fill in fills], np.uint8)
    blank = ColourPicture(
        rgb=np.zeros((200, 600, 3), dtype=np.uint8),
        is_painted=np.ones((200, 600), dtype=bool),
        left_mm=0.0,
        top_mm=20.0,
        px_mm=0.1,
    )
    coats = [
        Coat(paint="acrylic-lacquer", colour=fill, shows=Shows(kind="fill", value=fill))
        for fill in fills
    ]
    picture = ColourPicture(
        rgb=tones[first_holding(drawn, blank)],
        is_painted=blank.is_painted,
        left_mm=0.0,
        top_mm=20.0,
        px_mm=0.1,
    )
    for row in compare_front(picture, views, coats, FACE).colours:
        if row.most is not None:
            shapes = _parts(drawn[fills.index(row.colour)])[0]
            assert row.most - 1 == contrast_module._seen_in(shapes, views)


@pytest.mark.parametrize(("colour", "told"), [("ivry", "tint-unknown"), ("black", "contrast-low")])
def test_no_contrast_is_told_of_a_recoloured_paint_whose_name_says_no_tint(colour, told):
    # The drawing's black says nothing of it.
    coats = (
        Coat(paint="acrylic-lacquer", colour="black", shows=Shows(kind="rest")),
        Coat(paint="acrylic-lacquer", colour=colour, shows=Shows(kind="dark"), recolour=True),
    )
    made = planned(
        svg(words("HIGH WATER", 20, 13, 6), width=40, height=20),
        blank=plate(size=(40.0, 20.0), material="acrylic-cast", worked_side="back"),
        coats=coats,
        etch=None,
    )
    judged = {"contrast-low", "tint-unknown"}
    assert [one.code for one in made.findings if one.code in judged] == [told]
