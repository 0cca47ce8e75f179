"""Every field of the job's record is asked for by the planner, or says where else it is used."""

from __future__ import annotations

import sys
from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest
from shapely import box

from jobmaker import drawing
from jobs.test_every_key import BASES, parsed
from remembered import afresh
from stopout.job import record
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job
from stopout.values import Machine


def is_record(one):
    return is_dataclass(one) and one.__module__ == record.__name__


SOURCE = Path(record.__file__).parents[1]
RECORDS = [Machine, *(one for one in vars(record).values() if is_record(one))]
# Fields that planning these small pieces does not ask for, and the room that uses each.
ELSEWHERE = {
    ("ArtworkRequest", "box"): "artwork",
    ("ArtworkRequest", "fonts"): "library",
    ("ArtworkRequest", "height_mm"): "artwork",
    ("ArtworkRequest", "leave_out"): "artwork",
    ("ArtworkRequest", "may_be_cut"): "planning",
    ("ArtworkRequest", "page"): "artwork",
    ("ArtworkRequest", "position_mm"): "artwork",
    ("ArtworkRequest", "resolution_dpi"): "artwork",
    ("ArtworkRequest", "scale"): "artwork",
    ("ArtworkRequest", "specks_mm"): "artwork",
    ("ArtworkRequest", "threshold"): "artwork",
    ("ArtworkRequest", "width_mm"): "artwork",
    ("Blank", "outline"): "library",
    ("Budget", "memory_gib"): "cli",
    ("Budget", "time_s"): "cli",
    ("Film", "resist_acts"): "planning",
    ("Job", "budget"): "cli",
    ("Job", "second_name"): "sheet",
    ("Job", "sha256"): "sheet",
    ("Job", "setting"): "library",
    ("Machine", "acceleration_scale"): "cli",
    ("Machine", "name"): "sheet",
    ("Stencil", "bridge_mm"): "planning",
    ("Stencil", "overrun_mm"): "library",
}


@pytest.fixture(scope="module")
def asked():
    """The fields that planning a piece of each kind reads; copying a record does not count."""
    seen = set()

    def spy(cls):
        plain = cls.__getattribute__

        def read(self, name):
            if sys._getframe(1).f_globals["__name__"] not in ("dataclasses", __name__):
                seen.add((cls.__name__, name))
            return plain(self, name)

        return read

    with pytest.MonkeyPatch.context() as patch, afresh():
        for cls in RECORDS:
            patch.setattr(cls, "__getattribute__", spy(cls))
        for name, data in BASES.items():
            if name in ("set", "series"):
                continue  # planned as any plate, once its words are drawn
            job = parsed(data)
            plan_job(job, drawing(box(40, 30, 44, 34)), knowledge_for(job))
    return seen


def test_every_field_of_the_job_is_asked_for(asked):
    every = {(cls.__name__, one.name) for cls in RECORDS for one in fields(cls)}
    assert every - asked == set(ELSEWHERE)
    for (_, name), room in ELSEWHERE.items():
        texts = (path.read_text(encoding="utf-8") for path in (SOURCE / room).rglob("*.py"))
        assert any(f".{name}" in text for text in texts), (name, room)
