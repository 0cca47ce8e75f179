"""The law of coats: the reader sees, at each point, the first coat that was left there."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from effort import tries
from stopout.errors import PlanError
from stopout.job.record import Coat, Shows
from stopout.planning.signs.claims import claims_of
from stopout.planning.signs.layers import clearings
from stopout.planning.signs.shows import front_view
from stopout.values import Drawing, DrawnShape

FACE = box(0, 0, 6, 4)
FILLS = ("#102030", "#a0b0c0", "#d04020", "#20c060", "#ffee00")


def coat(colour, kind, value=""):
    return Coat(paint="acrylic-lacquer", colour=colour, shows=Shows(kind=kind, value=value))


def shown_by_coats(coats, drawing, face):
    return claims_of(coats, drawing, face).shown


def painted(grid):
    """A drawing of unit cells, one shape for each fill that the grid names (0 leaves it bare)."""
    shapes = []
    for number, fill in enumerate(FILLS, start=1):
        cells = [
            box(x, y, x + 1, y + 1)
            for y, row in enumerate(grid)
            for x, cell in enumerate(row)
            if cell == number
        ]
        if cells:
            shapes.append(
                DrawnShape(
                    fill=fill,
                    ident=f"part-{number}",
                    classes=(f"class-{number}",),
                    region=shapely.union_all(cells),
                )
            )
    dark = shapely.union_all([shape.region for shape in shapes]) if shapes else Polygon()
    return Drawing(
        file="map.svg", sha256="0" * 64, width_mm=6, height_mm=4, dark=dark, shapes=tuple(shapes)
    )


def seen_at(x, y, coats, cleared):
    """By the law itself, spelled out: go back through the coats to the first one left there."""
    for layer, gone in zip(coats, cleared, strict=True):
        if gone is None or not gone.contains(Point(x, y)):
            return layer.colour
    return "nothing"


grids = st.lists(
    st.lists(st.integers(0, len(FILLS)), min_size=6, max_size=6), min_size=4, max_size=4
)


@given(grid=grids, order=st.permutations(range(len(FILLS))), rest_at=st.integers(0, len(FILLS)))
@settings(max_examples=tries(60), deadline=None, derandomize=True)
def test_any_map_of_colours_is_seen_as_it_is_drawn(grid, order, rest_at):
    drawing = painted(grid)
    named = {shape.fill for shape in drawing.shapes}
    coats = [coat(FILLS[k], "fill", FILLS[k]) for k in order if FILLS[k] in named]
    coats.insert(min(rest_at, len(coats)), coat("rest", "rest"))
    cleared = clearings(shown_by_coats(coats, drawing, FACE), method="one-by-one", error_mm=0)
    views = front_view(FACE, cleared)
    for y in range(4):
        for x in range(6):
            cell = grid[y][x]
            wanted = FILLS[cell - 1] if cell else "rest"
            assert seen_at(x + 0.5, y + 0.5, coats, cleared) == wanted
            (shown,) = [
                layer.colour
                for layer, view in zip(coats, views, strict=True)
                if view.contains(Point(x + 0.5, y + 0.5))
            ]
            assert shown == wanted


@given(seed=st.integers(0, 10_000), n_coats=st.integers(2, 5))
@settings(max_examples=tries(40), deadline=None, derandomize=True)
def test_whatever_was_really_cleared_the_first_coat_left_is_seen(seed, n_coats):
    """Random discs cleared of each coat: the front view against the law at random points."""
    rng = np.random.default_rng(seed)
    coats = [coat(f"colour {k}", "rest") for k in range(n_coats)]
    cleared = [
        shapely.union_all(
            [Point(*rng.uniform(0, (6, 4))).buffer(rng.uniform(0.3, 1.5)) for _ in range(3)]
        )
        for _ in coats
    ]
    cleared[-1] = None
    views = front_view(FACE, cleared)
    for x, y in rng.uniform(0.01, (5.99, 3.99), (40, 2)):
        inside = [k for k, view in enumerate(views) if view.contains(Point(x, y))]
        assert [coats[k].colour for k in inside] == [seen_at(x, y, coats, cleared)]


def test_letters_removed_from_the_first_coat_show_the_second_and_the_ground_the_first():
    letters = box(1, 1, 3, 3)
    drawing = Drawing(
        file="a.svg", sha256="0" * 64, width_mm=6, height_mm=4, dark=letters, shapes=()
    )
    coats = [coat("black", "rest"), coat("ivory", "dark")]
    shown = shown_by_coats(coats, drawing, FACE)
    cleared = clearings(shown, method="one-by-one", error_mm=0)
    assert cleared[0].equals(letters)
    assert cleared[1] is None
    assert shown[0].equals(FACE.difference(letters))


def test_coats_are_found_by_id_by_a_group_s_id_and_by_class():
    region = box(1, 1, 2, 2)
    shape = DrawnShape(fill="#000000", ident="k1", classes=("gold", "#lettering"), region=region)
    drawing = Drawing(
        file="a.svg", sha256="0" * 64, width_mm=6, height_mm=4, dark=region, shapes=(shape,)
    )
    for kind, value in (("id", "k1"), ("id", "lettering"), ("class", "gold"), ("fill", "#000000")):
        shown = shown_by_coats([coat("a", "rest"), coat("b", kind, value)], drawing, FACE)
        assert shown[1].equals(region)


def test_a_colour_that_no_shape_has_is_refused_with_those_there_are():
    drawing = painted([[1] * 6] * 4)
    with pytest.raises(PlanError, match=r"#123456.*#102030"):
        shown_by_coats([coat("a", "rest"), coat("b", "fill", "#123456")], drawing, FACE)
