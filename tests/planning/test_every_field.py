"""Every field of the job's record is asked for by the planner, or says where else it is used."""

from __future__ import annotations

import sys
from dataclasses import fields
from pathlib import Path

import pytest
from shapely import box

from jobmaker import drawing
from jobs.test_every_key import BASES, parsed
from stopout.job import record
from stopout.library.knowledge import knowledge_for
from stopout.planning import plan_job
from stopout.values import Machine

SOURCE = Path(record.__file__).parents[1]
RECORDS = [
    record.Job,
    Machine,
    *(getattr(record, name) for name in record.__all__ if name != "Job"),
]
# Fields that planning these small pieces does not ask for, and the module that uses each.
ELSEWHERE = {
    ("ArtworkRequest", "box"): "artwork/scale.py",
    ("ArtworkRequest", "file"): "library/plans.py",
    ("ArtworkRequest", "fonts"): "library/plans.py",
    ("ArtworkRequest", "height_mm"): "artwork/scale.py",
    ("ArtworkRequest", "leave_out"): "artwork/svg/reading.py",
    ("ArtworkRequest", "may_be_cut"): "planning/verdict/cut.py",
    ("ArtworkRequest", "page"): "artwork/reading.py",
    ("ArtworkRequest", "position_mm"): "artwork/scale.py",
    ("ArtworkRequest", "resolution_dpi"): "artwork/scale.py",
    ("ArtworkRequest", "scale"): "artwork/scale.py",
    ("ArtworkRequest", "specks_mm"): "artwork/reading.py",
    ("ArtworkRequest", "threshold"): "artwork/raster/reading.py",
    ("ArtworkRequest", "width_mm"): "artwork/scale.py",
    ("Blank", "outline"): "library/plans.py",
    ("Budget", "memory_gib"): "cli/budget.py",
    ("Budget", "time_s"): "cli/budget.py",
    ("Coat", "recolour"): "planning/signs/compare.py",
    ("Film", "resist_acts"): "planning/opening/by_film.py",
    ("Job", "budget"): "cli/budget.py",
    ("Job", "second_name"): "sheet/contents/steps.py",
    ("Job", "sha256"): "sheet/contents/records.py",
    ("Machine", "acceleration_scale"): "cli/run_time.py",
    ("Stencil", "bridge_mm"): "planning/opening/by_film.py",
    ("Stencil", "overrun_mm"): "library/plan_files.py",
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

    with pytest.MonkeyPatch.context() as patch:
        for cls in RECORDS:
            patch.setattr(cls, "__getattribute__", spy(cls))
        for data in BASES.values():
            job = parsed(data)
            plan_job(job, drawing(box(40, 30, 44, 34)), knowledge_for(job))
    return seen


def test_every_field_of_the_job_is_asked_for(asked):
    every = {(cls.__name__, one.name) for cls in RECORDS for one in fields(cls)}
    assert every - asked == set(ELSEWHERE)
    for (_, name), module in ELSEWHERE.items():
        assert f".{name}" in (SOURCE / module).read_text(encoding="utf-8"), (name, module)
