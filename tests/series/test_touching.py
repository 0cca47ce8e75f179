"""Groups of a code's modules: each found by a box of its own, and what touching must not change."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from effort import tries
from stopout.artwork.setting.codes import lay_code
from stopout.artwork.setting.whole import LaidElement
from stopout.clearing import SideBySide
from stopout.job.setting import SetCode, Setting
from stopout.library.recurring import Apart, split_pieces
from stopout.library.touching import are_made_alike, touching
from stopout.mask import parts_of
from stopout.values import DrawnShape

SIDE, CORNER = 0.5, (3.25, 1.75)
PIECES = SideBySide(pitch_mm=30.0, lead_mm=2.0)
APART = Apart(any_mm=0.7, quiet_mm=0.3, known_mm=0.3, face=shapely.box(-20, -20, 20, 20))


def laid(content, kind):
    code = SetCode(content=content, kind=kind, module_mm=SIDE)
    found = lay_code(code, (0.0, 0.0))
    shape = DrawnShape(fill="#000000", ident="", classes=(), region=found.dark)
    return LaidElement(
        table="code", number=0, element=code, region=found.dark, shape=shape, code=found
    )


@settings(max_examples=tries(24), derandomize=True, deadline=None)
@given(st.text("TM-0123456789", min_size=2, max_size=12), st.sampled_from(["qr", "data-matrix"]))
def test_a_box_of_a_group_holds_nothing_else_of_its_code(content, kind):
    item = laid(content, kind)
    # Three pieces, so that everything comes again.
    pieces = {Setting(codes=(SetCode(content=f"{content}{k}"),)): (item,) for k in range(3)}
    for split in split_pieces(pieces, APART).values():
        (code,) = split.coded
        parts, seen = parts_of(item.region), set()
        assert code.touches == any(
            one.distance(other) < 1e-6 for k, one in enumerate(parts) for other in parts[:k]
        )
        for group in code.groups:
            held = [k for k, part in enumerate(parts) if shapely.box(*group.box).covers(part)]
            assert len(held) == 1
            seen.update(held)
        # What is left are the frame, and rings about something.
        assert all(
            any(shapely.box(*parts[k].bounds).covers(other) for other in parts if other != parts[k])
            for k in set(range(len(parts))) - seen
        )


def test_modules_no_wider_than_what_acts_between_shapes_are_not_taken_apart():
    item = laid("TM-01", "data-matrix")
    wide = Apart(any_mm=0.7, quiet_mm=0.5, known_mm=0.3, face=APART.face)
    pieces = {Setting(codes=(SetCode(content=f"{k}"),)): (item,) for k in range(3)}
    assert split_pieces(pieces, wide) == {}


def test_modules_are_tried_alone_and_touching_either_way():
    alone, *pairs = (np.array([f.at_mm for f in one.frames]) for one in touching(SIDE, CORNER))
    assert alone.tolist() == [list(CORNER)]
    assert [np.sign(np.diff(at, axis=0).prod()) for at in pairs] == [1, -1]


def made(change):
    """What is made of the modules that are tried: each less 30 um all round, then changed."""
    regions = []
    for k, one in enumerate(touching(SIDE, CORNER)):
        boxes = [shapely.box(*f.at_mm, *(a + SIDE for a in f.at_mm)) for f in one.frames]
        regions += [
            shapely.transform(box.buffer(-0.03), lambda xy, k=k: np.add(xy, (30.0 * k, 0.0)))
            for box in boxes
        ]
    region = shapely.MultiPolygon(list(shapely.get_parts(shapely.union_all(change(regions)))))
    coat = SimpleNamespace(opening=region, finished=region)
    return SimpleNamespace(coat=coat, pieces=PIECES)


@pytest.mark.parametrize(
    ("change", "is_alike"),
    [
        (lambda modules: modules, True),
        (lambda modules: [m.buffer(1e-7) for m in modules], True),
        # A bridge between two that touch.
        (lambda modules: [*modules, shapely.union_all(modules[1:3]).convex_hull], False),
        # An edge that is taken 0.1 um farther only where nothing touches it.
        (lambda modules: [modules[0].buffer(1e-4), *modules[1:]], False),
        (lambda modules: modules[:-1], False),
    ],
)
def test_modules_that_touch_must_be_made_as_one_alone(change, is_alike):
    assert are_made_alike(made(change), SIDE, CORNER) is is_alike
