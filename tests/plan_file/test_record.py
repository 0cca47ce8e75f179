"""What is written into plan.json is what is read from it, on every route."""

from __future__ import annotations

import json

import pytest
from shapely import box

from jobmaker import make_job, plan
from planning.test_edge_light import marked
from planning.test_film import printed
from stopout import StopoutError
from stopout.plan_file import PLAN_FILE, read_plan, summarise

SHAPE = box(2, 2, 8, 7)


def plates():
    """A plan of each route, made when it is asked for."""
    return {
        "beam": lambda: plan(SHAPE, make_job()),
        "stopped": lambda: plan(box(2, 2, 8, 2.1), limits={"too_thin": "stop"}),
        "film": lambda: plan(SHAPE, printed()),
        "lit edge": marked,
    }


@pytest.fixture(params=["beam", "stopped", "film", "lit edge"])
def made(request):
    return plates()[request.param]()


def written(folder, data):
    (folder / PLAN_FILE).write_text(json.dumps(data))
    return read_plan(folder)


def test_every_value_comes_back(made, tmp_path):
    record = written(tmp_path, summarise(made, sheets=True))
    job = made.job
    assert record.job.name == job.name
    assert (record.job.quantity, record.job.job_sha256) == (job.quantity, job.sha256)
    assert record.orientation.worked_side == job.blank.worked_side
    assert (record.blank.width_mm, record.blank.height_mm) == (
        job.blank.width_mm,
        job.blank.height_mm,
    )
    assert record.machine == (job.laser if job.route.has_beam else None)
    if job.route.has_beam:
        assert record.blank_at_mm == pytest.approx(made.blank_at_mm)
    assert [coat.coat for coat in record.coats] == [coat.number for coat in made.coats]
    for read, coat in zip(record.coats, made.coats, strict=True):
        if coat.clearing is not None:
            assert read.clearing.mark_mm == pytest.approx([axis.value for axis in coat.mark_mm])
        assert (read.files.program is None) == (coat.program is None)
    assert [one.code for one in record.findings] == [one.code for one in made.verdict.told]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda data: data["coats"][0]["clearing"].pop("speed_mm_s"), "speed_mm_s"),
        (lambda data: data["blank"].update(width_mm=-1), "out of its range"),
        (lambda data: data["findings"].append({}), "findings"),
        (lambda data: data.update(format="stopout-plan-9"), "stopout-plan-9"),
        (lambda data: data.pop("blank"), "what the blank is"),
    ],
)
def test_what_is_damaged_is_told_with_its_place(change, says, tmp_path):
    data = summarise(plates()["beam"]())
    data = json.loads(json.dumps(data))
    change(data)
    with pytest.raises(StopoutError, match=says):
        written(tmp_path, data)
