"""Regions that another thread works on are its own: what is prepared is guarded by nothing."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from shapely.geometry import box

import jobmaker
from stopout.planning.opening import coat as coats


def test_no_region_is_shared_between_two_threads(monkeypatch):
    """Two threads that ask one prepared region can end the process."""
    handed = []

    class Watched(ThreadPoolExecutor):
        def submit(self, work, /, *args, **kwargs):
            handed.extend(x for x in (*args, *kwargs.values()) if hasattr(x, "geom_type"))
            return super().submit(work, *args, **kwargs)

    monkeypatch.setattr(coats, "ThreadPoolExecutor", Watched)
    made = jobmaker.plan_afresh(box(3, 3, 7, 6).difference(box(4, 4, 5, 5)))
    coat = made.coats[0]
    kept = [made.face, coat.target, coat.opening, coat.finished]
    assert len(handed) >= 6
    assert len({id(region) for region in [*handed, *kept]}) == len(handed) + len(kept)
