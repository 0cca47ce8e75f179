"""Regions that another thread works on are its own: what is prepared is guarded by nothing."""

from __future__ import annotations

from functools import partial

import pytest
from shapely.geometry import box

import jobmaker
from stopout.planning.opening import apart, coat, look, patches


def regions_of(asked):
    """Every region that a piece of work is handed."""
    if isinstance(asked, partial):
        asked = asked.args
    if isinstance(asked, patches.Patch):
        asked = [asked.target, asked.face]
    if isinstance(asked, (list, tuple)):
        return [region for one in asked for region in regions_of(one)]
    return [asked] if hasattr(asked, "geom_type") else []


@pytest.mark.parametrize("far", [False, True])
def test_no_region_is_shared_between_two_threads(monkeypatch, far):
    """Two threads that ask one prepared region can end the process."""
    handed = []

    def watched(work, asked, **shared):
        waiting = list(asked)
        found = [id(region) for one in waiting for region in regions_of(one)]
        assert len(set(found)) == len(found)
        handed.extend(region for one in waiting for region in regions_of(one))
        return apart.each(work, waiting)

    for room in (coat, look):
        monkeypatch.setattr(room, "each", watched)
    ring = box(3, 3, 7, 6).difference(box(4, 4, 5, 5))
    made = jobmaker.plan_afresh(ring.union(box(9, 3, 10, 6)) if far else ring)
    plan = made.coats[0]
    kept = {id(region) for region in (made.face, plan.target)}
    assert len(handed) >= (10 if far else 5)
    assert not kept & {id(region) for region in handed}
