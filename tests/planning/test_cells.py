"""A sign looked at cell by cell is the sign looked at as a whole, whoever remembers which cells.

Random signs of shapes in and about each other; nothing outside the project tells how one is to be
parted, so the plain looks of `plain_register` and the whole as one cell are the measure.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from effort import tries
from jobmaker import drawing
from planning import plain_register
from stopout.job.record import Coat, Shows
from stopout.planning.memory import Memory
from stopout.planning.signs import cells as cells_module
from stopout.planning.signs.cells import CellsDisagreeError, cells_of, in_cells, joined
from stopout.planning.signs.claims import claims_of
from stopout.planning.signs.grid import (
    GRID_MM,
    difference,
    intersection,
    on_grid,
    partition,
    union,
)
from stopout.planning.signs.layers import clearings, plan_layers
from stopout.planning.signs.proof import seen_of
from stopout.planning.signs.register import worst_slip
from stopout.planning.signs.shows import effective
from stopout.values import DrawnShape

FACE = box(0, 0, 30, 20)
METHODS = ("one-by-one", "through")
SEEDS = st.integers(0, 100_000)


def shape_of(rng):
    """A disc, a ring, a box or a frame, large or small, anywhere about the face."""
    x, y = rng.uniform((-1, -1), (31, 21))
    size = float(rng.choice([0.3, 1.0, 3.0, 8.0]) * rng.uniform(0.5, 1.2))
    outer = (
        Point(x, y).buffer(size, quad_segs=6)
        if rng.random() < 0.5
        else box(x - size, y - 0.7 * size, x + size, y + 0.7 * size)
    )
    inner = shapely.affinity.scale(outer, *[rng.uniform(0.3, 0.9)] * 2)
    return on_grid(outer.difference(inner) if rng.random() < 0.5 else outer)


@settings(max_examples=tries(60), derandomize=True)
@given(st.integers(0, 400_000), st.integers(0, 200_000), st.integers(1, 9))
def test_points_half_way_between_steps_go_the_same_way_wherever_they_lie(right, up, fine):
    ring = Point(0.00005, 0.00005).buffer(0.5, fine).difference(Point(0, 0).buffer(0.20005, fine))
    # As drawings come, on a grid of a nanometre; many a point lies half way.
    ring = shapely.transform(ring, lambda xy: np.round(np.round(xy * 2, 4) / 2, 6))
    there = shapely.transform(ring, lambda xy: np.round(np.add(xy, (right * 1e-4, up * 1e-4)), 6))
    (one,), (two,) = (partition([region])[0] for region in (ring, there))
    by = shapely.get_coordinates(shapely.normalize(two)) - shapely.get_coordinates(
        shapely.normalize(one)
    )
    assert np.abs(by / GRID_MM - (right, up)).max() < 1e-3


def painted(seed, count=14, coats=3, has_ground=True):
    """What is to be seen of each coat, where shapes are painted over each other."""
    rng = np.random.default_rng(seed)
    shown = [FACE if has_ground else Polygon(), *[Polygon()] * (coats - 1)]
    for _ in range(count):
        shape = intersection(shape_of(rng), FACE)
        of = int(rng.integers(coats))
        shown = [
            union([region, shape]) if k == of else difference(region, shape)
            for k, region in enumerate(shown)
        ]
    return shown


def as_cleared(shown, seed, method):
    """The clearings of a sign a little astray, and now and then one that lost a part."""
    rng = np.random.default_rng(seed)
    cleared = clearings(shown, method=method, error_mm=float(rng.choice([0.0, 0.1])))
    found = []
    for region in cleared:
        astray = None if region is None else region.buffer(rng.uniform(-0.03, 0.03), quad_segs=4)
        if astray is not None and rng.random() < 0.3:
            parts = list(shapely.get_parts(astray))
            astray = shapely.union_all([p for p in parts if rng.random() < 0.9])
        found.append(astray)
    return found


def strays(one, other):
    """What two regions differ by, but for half a micrometre along edges."""
    return one.symmetric_difference(other).buffer(-0.00025).area


@given(seed=SEEDS, apart=st.sampled_from([0.2, 0.65, 2.0]), has_ground=st.booleans())
@settings(max_examples=tries(60))
def test_what_was_parted_into_cells_and_joined_again_is_what_it_was(seed, apart, has_ground):
    regions = [FACE, *painted(seed, has_ground=has_ground)]
    cells = cells_of(regions, apart_mm=apart)
    for k, region in enumerate(regions):
        found = joined(cells, [cell.regions[k] for cell in cells])
        assert found.is_valid
        assert found.equals(region)


@given(seed=SEEDS, apart=st.sampled_from([0.2, 0.65]))
@settings(max_examples=tries(40))
def test_in_a_cell_a_place_near_its_edges_is_whose_it_is_on_the_sign(seed, apart):
    regions = [FACE, *painted(seed)]
    rng = np.random.default_rng(seed)
    for cell in cells_of(regions, apart_mm=apart):
        edges = shapely.union_all([region.boundary for region in cell.regions[1:]])
        edges = edges.intersection(box(*(cell.inner + 0.1 * apart * np.array([1, 1, -1, -1]))))
        for part in rng.uniform(0, edges.length, 8):
            x, y = edges.interpolate(part).coords[0] + rng.uniform(-0.4, 0.4, 2) * apart
            for own, region in zip(cell.regions[1:], regions[1:], strict=True):
                if FACE.contains(Point(x, y)) and region.boundary.distance(Point(x, y)) > 1e-4:
                    assert own.contains(Point(x, y)) == region.contains(Point(x, y))


@given(seed=SEEDS, method=st.sampled_from(METHODS), error=st.sampled_from([0.05, 0.1, 0.3]))
@settings(max_examples=tries(40))
def test_what_is_cleared_cell_by_cell_is_what_is_cleared_of_the_whole(seed, method, error):
    shown = painted(seed)
    found = plan_layers(shown, face=FACE, method=method, error_mm=error, edge_mm=0.05)
    plain = clearings(shown, method=found.method, error_mm=error, edge_mm=0.05)
    for one, other in zip(found.cleared, plain, strict=True):
        assert (one is None) == (other is None)
        assert one is None or strays(one, other) == 0


@given(seed=SEEDS, error=st.sampled_from([0.05, 0.1, 0.3]), edge=st.sampled_from([0.0, 0.05]))
@settings(max_examples=tries(30))
def test_one_by_one_a_miss_shows_no_sliver_wider_than_itself(seed, error, edge):
    """So that the other method need not be tried where a miss is no wider than is worth it."""
    shown = painted(seed)
    how = {"method": "one-by-one", "error_mm": error}
    cleared = clearings(shown, **how, edge_mm=edge)
    # Found by discs within 4 um, of chords.
    assert worst_slip(shown, cleared, face=FACE, **how, allowed_mm=edge).width_mm <= error + 0.004


# A disc's centres, rounded to the grid, left a crumb 0.09 mm beside the region once.
@example(seed=6427, method="one-by-one", has_ground=True)
@example(seed=505, method="one-by-one", has_ground=True)
@given(seed=SEEDS, method=st.sampled_from(METHODS), has_ground=st.booleans())
@settings(max_examples=tries(30))
def test_what_is_seen_cell_by_cell_is_a_plain_look_at_the_whole(seed, method, has_ground):
    shown = painted(seed, has_ground=has_ground)
    cleared = as_cleared(shown, seed, method)
    how = {"method": method, "error_mm": 0.1, "edge_mm": 0.05, "memory": Memory(0)}
    seen = seen_of(shown, cleared, FACE, **how)
    plain = plain_register.front_view(FACE, effective(cleared, method))
    for one, other in zip(seen.views, plain, strict=True):
        assert strays(one, other) == 0
    right = sum(a.intersection(b).area for a, b in zip(shown, plain, strict=True))
    assert seen.agreement.share == pytest.approx(right / FACE.area, abs=1e-5)
    if seen.slip is None:
        return
    wrong = plain_register.wrong_by_move(shown, cleared, FACE, method, 0.15, moved_mm=0.1)
    width = max(seen.slip.width_mm, 0.004)
    # Found by discs within 4 um, of chords; one that is centimetres wide by more of them.
    more = 0.002 if width < 0.5 else 0.005 * width
    assert all(region.buffer(-width / 2 - more).is_empty for region in wrong.values())
    if 0 < width < 0.5 and seen.slip.moved:
        worst = wrong[seen.slip.moved, seen.slip.coat]
        disc = Point(seen.slip.at_mm).buffer(width / 2 - 0.0008)
        assert disc.difference(worst).area < 1e-5
        moved = plain_register.moved_view(cleared, FACE, method, seen.slip.moved)
        for one, other in zip(seen.moved_views, moved, strict=True):
            assert strays(one, other) == 0


COATS = tuple(
    Coat(paint="acrylic-lacquer", colour=colour, shows=shows)
    for colour, shows in (
        ("white", Shows(kind="rest")),
        ("red", Shows(kind="fill", value="#ff0000")),
        ("also red", Shows(kind="class", value="loud")),
        ("black", Shows(kind="dark")),
    )
)


def drawn(seed, count=14, moved=None):
    """Shapes as an artwork has them, the later cut out of the earlier; one may be moved."""
    rng = np.random.default_rng(seed)
    shapes = []
    for k in range(count):
        region = shape_of(rng)
        if k == moved:
            region = on_grid(shapely.affinity.translate(region, 0.2, 0.1))
        fill = str(rng.choice(["#ff0000", "#000000", "#ffffff"]))
        shapes = [replace(one, region=one.region.difference(region)) for one in shapes]
        shapes.append(
            DrawnShape(
                fill=fill, ident="", classes=("loud",) if rng.random() < 0.3 else (), region=region
            )
        )
    dark = shapely.union_all([one.region for one in shapes if one.fill == "#000000"])
    has_more = rng.random() < 0.3
    return drawing(dark.union(box(3, 3, 9, 5)) if has_more else dark, shapes=tuple(shapes))


def whole_claims(artwork, monkeypatch):
    """Who shows what, with all of the artwork as one cell."""
    with monkeypatch.context() as patch:
        whole = cells_module._whole
        patch.setattr(cells_module, "cells_of", lambda regions, apart_mm: [whole(regions)])
        return claims_of(COATS, artwork, FACE)


def can_be_claimed(artwork):
    """Tell whether an artwork holds something of all that the coats name."""
    has_red = any(one.fill == "#ff0000" for one in artwork.shapes)
    return has_red and any(one.classes for one in artwork.shapes) and not artwork.dark.is_empty


@given(seed=SEEDS)
@settings(max_examples=tries(40))
def test_who_shows_what_cell_by_cell_is_who_shows_what_on_the_whole(seed):
    artwork = drawn(seed)
    assume(can_be_claimed(artwork))
    with pytest.MonkeyPatch.context() as patch:
        plain = whole_claims(artwork, patch)
    found = claims_of(COATS, artwork, FACE)
    for one, other in zip(found.shown, plain.shown, strict=True):
        assert strays(one, other) == 0
    pairs = [[(both.first, both.second) for both in made.overlaps] for made in (found, plain)]
    assert pairs[0] == pairs[1]
    for one, other in zip(found.overlaps, plain.overlaps, strict=True):
        assert strays(one.region, other.region) == 0


def bytes_of(artwork, memory):
    """All that is made of an artwork, from who shows what to what is seen."""
    shown = claims_of(COATS, artwork, FACE, memory).shown
    how = {"error_mm": 0.1, "edge_mm": 0.05}
    layers = plan_layers(shown, face=FACE, **how, memory=memory)
    cleared = [None if one is None else one.buffer(0.01, quad_segs=2) for one in layers.cleared]
    seen = seen_of(shown, cleared, FACE, method=layers.method, **how, memory=memory)
    regions = [*shown, *cleared, *seen.shown, *seen.views, *(seen.moved_views or ())]
    told = layers.method, layers.reason, seen.agreement, seen.slip
    return shapely.to_wkb(np.array(regions, dtype=object)).tolist(), told


@given(seed=SEEDS)
@settings(max_examples=tries(12))
def test_a_sign_of_remembered_cells_is_the_sign_made_anew_byte_for_byte(seed):
    assume(can_be_claimed(drawn(seed)))
    memory, moves = Memory(), (None, seed % 14, (seed + 5) % 14)
    artworks = {moved: drawn(seed, moved=moved) for moved in moves}
    anew = {moved: bytes_of(artwork, Memory(0)) for moved, artwork in artworks.items()}
    for moved in (*moves, None):
        assert bytes_of(artworks[moved], memory) == anew[moved]


def test_of_a_sign_with_one_shape_moved_only_that_shape_s_cells_are_looked_at(monkeypatch):
    made = []
    recall_all = Memory.recall_all

    def noted(self, keys, make):
        def counted(missing):
            made.append((keys[0][0], len(missing), len(keys)))
            return make(missing)

        return recall_all(self, keys, counted)

    monkeypatch.setattr(Memory, "recall_all", noted)
    dots = [Point(4 * x + 3, 4 * y + 3).buffer(1) for x in range(6) for y in range(4)]
    shapes = [
        DrawnShape(fill="#000000" if k % 2 else "#ff0000", ident="", classes=("loud",), region=dot)
        for k, dot in enumerate(dots)
    ]
    memory = Memory()
    for off in (0.0, 0.2):
        made.clear()
        shapes[9] = replace(shapes[9], region=shapely.affinity.translate(dots[9], off, 0))
        dark = shapely.union_all([one.region for one in shapes if one.fill == "#000000"])
        bytes_of(drawing(dark, shapes=tuple(shapes)), memory)
        counts = {name: (new, of) for name, new, of in made}
        assert {"claims", "cleared", "seen"} <= set(counts)
    assert all(new <= 2 < of for new, of in counts.values())


def test_cells_that_disagree_of_what_lies_between_them_are_looked_at_as_one():
    regions = [FACE, FACE.difference(box(2, 2, 12, 12)), box(5, 5, 6, 6)]
    asked = []

    def look(cells):
        asked.append(len(cells))
        # As if nothing lay about any cell: the innermost has lost what it lies in.
        return joined(cells, [Polygon() if c.around[0] else c.regions[0] for c in cells])

    found = in_cells(regions, 0.5, look)
    assert asked == [3, 1]
    assert found.equals(FACE)
    with pytest.raises(CellsDisagreeError):
        look(cells_of(regions, apart_mm=0.5))
