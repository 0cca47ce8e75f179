"""A drawing planned patch by patch, and remembered, is the drawing planned whole and anew."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from effort import tries
from jobmaker import drawing, make_job
from remembered import afresh
from shapes import glyph_f
from stopout.library.knowledge import knowledge_for
from stopout.mask import narrowest, narrowest_of
from stopout.mask.discs import RESOLUTION_MM, strokes_of
from stopout.mask.regions import parts_of
from stopout.planning import plan_job
from stopout.planning.memory import Memory
from stopout.planning.opening import look, masks, patches
from stopout.planning.opening.patches import patches_of, whole_patch
from stopout.planning.road.coats import making_for
from stopout.planning.shifting import shifted_each

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


def draft(dark, memory=None):
    with afresh():
        return plan_job(JOB, drawing(dark), knowledge_for(JOB), draft=True, memory=memory)


def same(one, other):
    apart = one.symmetric_difference(other)
    return shapely.buffer(apart, -AGREES_MM).is_empty


@settings(max_examples=tries(40, share=7), derandomize=True)
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
    for name in ("bridges", "counters"):
        lands = [[land.drawn_mm for land in getattr(coat, name)] for coat in (one, other)]
        assert sorted(lands[0]) == pytest.approx(sorted(lands[1]), abs=2 * AGREES_MM), name
    assert [(c.kind, c.part, c.others) for c in one.changes] == [
        (c.kind, c.part, c.others) for c in other.changes
    ]
    assert {f.code for f in by_patches.findings} == {f.code for f in whole.findings}
    assert by_patches.verdict.headline == whole.verdict.headline


def test_parts_are_one_patch_as_far_as_they_act_on_each_other(monkeypatch):
    monkeypatch.setattr(patches, "_MANY", 0)
    row = shapely.MultiPolygon([shapely.box(x, 1, x + 1, 2) for x in (0.5, 1.8, 14.0, 24.0, 27.0)])
    face = shapely.box(0, 0, 30, 10)
    found = patches_of(row, face, apart_mm=0.5, whole_mm=0.3)
    # The last two are small and lie in one cell.
    assert [patch.part.tolist() for patch in found] == [[0, 1], [2], [3, 4]]
    assert all(patch.face.covers(patch.target) for patch in found)
    assert len({patch.key for patch in found}) == 3
    lie = shifted_each([patch.target for patch in found], [patch.corner_mm for patch in found])
    for patch, target in zip(found, lie, strict=True):
        own = shapely.MultiPolygon([row.geoms[k] for k in patch.part])
        assert target.hausdorff_distance(own) < 1e-8


def bare(found):
    """All that was found, to the last bit; where a place is, in the frame that it was found in."""
    if isinstance(found, BaseGeometry):
        return shapely.to_wkb(found)
    if isinstance(found, np.ndarray):
        return found.tobytes()
    if is_dataclass(found):
        return tuple(bare(getattr(found, part.name)) for part in fields(found))
    return tuple(map(bare, found)) if isinstance(found, (tuple, list)) else found


@settings(max_examples=tries(40), derandomize=True)
@given(scattered(), st.floats(0.3, 2.5), st.floats(0.3, 2.5))
def test_a_moved_drawing_is_planned_as_the_same_patches_byte_for_byte(dark, right, up):
    face = shapely.box(-20, -20, 40, 40)
    how = making(face)
    there = affinity.translate(dark, right, up)
    here, moved = (masks.patched(shapely.normalize(one), face, how) for one in (dark, there))
    if len(here) < 2:
        # Looked at whole, with all of the face.
        return
    assert sorted(patch.key for patch in here) == sorted(patch.key for patch in moved)
    # What is found hangs on the key alone, and is laid where the patch lies.
    one, other = here[0], next(patch for patch in moved if patch.key == here[0].key)
    planned = [masks.mask_of(patch, how) for patch in (one, other)]
    looks = [
        look.look_at(patch, look.cleared_by(mask.mask, how.mark_mm), how)
        for patch, mask in zip((one, other), planned, strict=True)
    ]
    assert bare(planned[0]) == bare(planned[1])
    assert bare(looks[0]) == bare(looks[1])
    laid = masks.laid_out(planned[:1], [other])[0].mask.centres
    assert same(laid, affinity.translate(planned[0].mask.centres, *other.corner_mm))


def making(face):
    with afresh():
        knowledge = knowledge_for(JOB)
    return making_for(JOB, drawing(face), knowledge)


@settings(max_examples=tries(12), derandomize=True)
@given(scattered(), st.integers(0, 4), st.floats(0.01, 0.4))
def test_one_part_moved_is_planned_from_memory_as_anew_byte_for_byte(dark, which, by):
    parts = list(dark.geoms)
    parts[which % len(parts)] = affinity.translate(parts[which % len(parts)], by, by / 3)
    edited = shapely.MultiPolygon(parts)
    memory = Memory()
    draft(dark, memory)
    warm, cold = draft(edited, memory), draft(edited)
    assert bare(warm.coats) == bare(cold.coats)
    assert bare(draft(dark, memory).coats) == bare(draft(dark).coats)
    assert warm.findings == cold.findings
    assert warm.verdict == cold.verdict


def test_a_shape_that_comes_again_or_was_moved_is_looked_at_once(monkeypatch):
    asked = []
    real = masks.mask_of
    monkeypatch.setattr(masks, "mask_of", lambda patch, how: asked.append(1) or real(patch, how))
    small = affinity.scale(glyph_f(), 0.4, 0.4)
    x0, y0, x1, _ = small.bounds
    at = [affinity.translate(small, x - x0, y - y0) for x, y in ((3, 3), (3.1 + x1 - x0, 6.01))]
    memory = Memory()
    for moved in (0.0, 0.137):
        dark = shapely.union_all([at[0], affinity.translate(at[1], 1 + moved, moved)])
        assert len(draft(dark, memory).coats[0].target.geoms) == 2
        assert len(asked) == 1


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
@given(scattered(), st.sampled_from([0.05, 0.2, 0.7]), st.sampled_from([0.99, 1.02, 1.5, 4.0]))
def test_the_narrowest_of_several_regions_is_that_of_the_plain_search_over_all(dark, start, share):
    found = narrowest_of(list(shapely.get_parts(dark)), start_mm=start)
    assert found.width_mm == pytest.approx(plainly_narrowest_mm(dark), abs=AGREES_MM)
    assert narrowest(dark, start_mm=start).width_mm == pytest.approx(found.width_mm, abs=AGREES_MM)
    assert dark.buffer(0.001).contains(shapely.Point(found.at_mm))
    # Where only narrower places are looked for, they are looked for another way.
    most = share * found.width_mm
    within = narrowest_of(list(shapely.get_parts(dark)), start_mm=start, most_mm=most)
    if share < 1:
        assert within is None
    else:
        assert within.width_mm == pytest.approx(found.width_mm, abs=AGREES_MM)


def test_nothing_wider_than_asked_for_is_looked_for():
    wide = [shapely.box(0, 0, 1, 1), shapely.Polygon()]
    assert narrowest_of(wide, start_mm=0.1, most_mm=0.9) is None
    assert narrowest_of(wide, start_mm=0.1, most_mm=1.2).width_mm == pytest.approx(1.0, abs=0.001)
    assert narrowest_of([shapely.Polygon()], start_mm=0.1) is None
    assert np.isclose(narrowest(wide[1]).width_mm, 0.0)
