"""A drawing planned patch by patch, and remembered, is the drawing planned whole and anew."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from jobmaker import drawing, make_job
from remembered import afresh
from shapes import glyph_f
from stopout.library.knowledge import knowledge_for
from stopout.mask import narrowest, narrowest_of
from stopout.mask.discs import RESOLUTION_MM, strokes_of
from stopout.mask.regions import parts_of
from stopout.planning import plan_job
from stopout.planning.memory import Memory
from stopout.planning.opening import look, patches
from stopout.planning.opening.patches import patches_of, whole_patch

JOB = make_job(limits={"edge_tolerance_mm": 0.03, "too_thin": "widen"})
FACE = shapely.box(0, 0, 12, 10)
# Half a micrometre: what one calculation may differ from another by.
AGREES_MM = 0.0005
SHAPES = [
    shapely.box(0, 0, 1.8, 0.13),
    shapely.Polygon([(0, 0), (1.4, 0), (0, 1.2)]),
    shapely.Point(0.5, 0.5).buffer(0.5).difference(shapely.Point(0.5, 0.5).buffer(0.3)),
    shapely.box(0, 0, 0.7, 0.7).difference(shapely.box(0.3, -0.1, 0.42, 0.5)),
    shapely.union_all([shapely.box(0, 0, 0.3, 1.6), shapely.box(0, 1.3, 1.2, 1.6)]),
]


@st.composite
def scattered(draw):
    """Shapes here and there, 0.2 mm apart and more: some act on each other, some do not."""
    cells = st.lists(st.integers(0, 19), min_size=2, max_size=5, unique=True)
    shift = st.floats(0, 0.15)
    return shapely.MultiPolygon(
        [
            affinity.translate(
                draw(st.sampled_from(SHAPES)),
                round(0.5 + 2.2 * (cell % 5) + draw(shift), 2),
                round(0.5 + 2.2 * (cell // 5) + draw(shift), 2),
            )
            for cell in draw(cells)
        ]
    )


@pytest.fixture(autouse=True)
def each_group_is_a_patch(monkeypatch):
    """Small ones too, which are otherwise taken together."""
    monkeypatch.setattr(patches, "_SMALL", 0)


def draft(dark, memory=None):
    with afresh():
        return plan_job(JOB, drawing(dark), knowledge_for(JOB), draft=True, memory=memory)


def same(one, other):
    apart = one.symmetric_difference(other)
    return shapely.buffer(apart, -AGREES_MM).is_empty


@settings(max_examples=10, derandomize=True)
@given(scattered())
def test_patches_together_are_the_whole_to_half_a_micrometre(dark):
    by_patches = draft(dark)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            "stopout.planning.opening.coat.patched",
            lambda target, face, how: [whole_patch(target, face)],
        )
        whole = draft(dark)
    one, other = by_patches.coats[0], whole.coats[0]
    assert same(one.opening, other.opening)
    assert same(one.finished, other.finished)
    for name in ("lost", "merged", "widened"):
        assert getattr(one.outcome, name) == getattr(other.outcome, name), name
    for name in ("worst_outside_mm", "worst_inside_mm", "worst_outside_unwidened_mm"):
        assert getattr(one.outcome, name) == pytest.approx(
            getattr(other.outcome, name), abs=2 * AGREES_MM
        ), name
    for name in ("narrowest_opening_mm", "narrowest_land_mm"):
        assert getattr(one.mask, name) == pytest.approx(getattr(other.mask, name), abs=0.001), name
    assert one.finished_land_mm == pytest.approx(other.finished_land_mm, abs=0.001)
    assert [(c.kind, c.part, c.others) for c in one.changes] == [
        (c.kind, c.part, c.others) for c in other.changes
    ]
    assert {f.code for f in by_patches.findings} == {f.code for f in whole.findings}
    assert by_patches.verdict.headline == whole.verdict.headline


def test_parts_are_one_patch_as_far_as_they_act_on_each_other(monkeypatch):
    monkeypatch.setattr(patches, "_SMALL", 300)
    row = shapely.MultiPolygon([shapely.box(x, 1, x + 1, 2) for x in (0.5, 1.8, 14.0, 24.0, 27.0)])
    face = shapely.box(0, 0, 30, 10)
    found = patches_of(row, face, apart_mm=0.5, whole_mm=0.3)
    # The last two are small and lie in one cell.
    assert [patch.part.tolist() for patch in found] == [[0, 1], [2], [3, 4]]
    assert all(patch.face.covers(patch.target) for patch in found)
    assert len({patch.key for patch in found}) == 3


def test_what_is_remembered_gives_the_same_bytes_and_only_changes_are_looked_at(
    monkeypatch,
):
    dark = shapely.union_all([glyph_f(), affinity.translate(glyph_f(), 7.0, 0.0)])
    moved = shapely.union_all([glyph_f(), affinity.translate(glyph_f(), 7.2, 0.0)])
    asked = []
    real = look.mask_of
    monkeypatch.setattr(look, "mask_of", lambda patch, how: asked.append(1) or real(patch, how))
    memory = Memory()
    draft(dark, memory)
    warm = draft(moved, memory)
    assert len(asked) == 3
    assert draft(dark, memory).coats[0].mask == draft(dark).coats[0].mask
    cold = draft(moved)
    for name in ("opening", "finished"):
        assert shapely.to_wkb(getattr(warm.coats[0], name)) == shapely.to_wkb(
            getattr(cold.coats[0], name)
        )
    assert warm.coats[0].mask == cold.coats[0].mask
    assert warm.verdict == cold.verdict


def test_a_memory_forgets_what_was_not_asked_for_the_longest():
    memory = Memory(2)
    for key in "abac":
        memory.recall(key, lambda key=key: key.upper())
    assert memory.recall("a", lambda: "anew") == "A"
    assert memory.recall("b", lambda: "anew") == "anew"


def plainly_narrowest_mm(region):
    """The plain way up: the first width at which opening the whole loses something, halved in."""
    parts = parts_of(region)

    def loses(steps):
        return len(strokes_of(parts, steps)) > 0

    ladder = [step for power in range(3, 14) for step in (1 << power, 3 << power - 1)]
    low, high = next(pair for pair in pairwise(ladder) if loses(pair[1]))
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if loses(middle) else (middle, high)
    return low * RESOLUTION_MM


@settings(max_examples=8, derandomize=True)
@given(scattered(), st.sampled_from([0.05, 0.2, 0.7]))
def test_the_narrowest_of_several_regions_is_that_of_the_plain_search_over_all(dark, start):
    found = narrowest_of(list(shapely.get_parts(dark)), start_mm=start)
    assert found.width_mm == pytest.approx(plainly_narrowest_mm(dark), abs=AGREES_MM)
    assert narrowest(dark, start_mm=start).width_mm == pytest.approx(found.width_mm, abs=AGREES_MM)
    assert dark.buffer(0.001).contains(shapely.Point(found.at_mm))


def test_nothing_wider_than_asked_for_is_looked_for():
    wide = [shapely.box(0, 0, 1, 1), shapely.Polygon()]
    assert narrowest_of(wide, start_mm=0.1, most_mm=0.9) is None
    assert narrowest_of(wide, start_mm=0.1, most_mm=1.2).width_mm == pytest.approx(1.0, abs=0.001)
    assert narrowest_of([shapely.Polygon()], start_mm=0.1) is None
    assert np.isclose(narrowest(wide[1]).width_mm, 0.0)
