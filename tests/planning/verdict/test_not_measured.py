"""What is not the shop's own is named: the mark or the etch, or how the machine moves."""

import pytest
from shapely import box

from jobmaker import make_job, plan, replace
from stopout.planning.verdict.record import Told, Verdict
from stopout.values import Level, Span


def told(code):
    return Told(code=code, level=Level.CAUTION, message="m", remedy="", rank=(3, 0))


@pytest.mark.parametrize(
    ("codes", "figures", "named"),
    [
        (("machine-unmeasured",), ("acceleration", "step"), "the machine's motion"),
        (("machine-unmeasured",), ("acceleration", "spot"), "mark or etch"),
        (("machine-unmeasured", "starting-guess"), ("acceleration",), "mark or etch"),
        (("starting-guess",), (), "mark or etch"),
    ],
)
def test_what_is_not_measured_is_named(codes, figures, named):
    made = plan(box(4, 3, 8, 6), make_job())
    spans = tuple(
        Span(name=name, value=1.0, low=0.5, high=2.0, unit="", kind="practice", source="")
        for name in figures
    )
    job = replace(made.job, machine=replace(made.job.machine, spans=spans))
    verdict = Verdict(state="ready", unmeasured=True, told=tuple(map(told, codes)))
    assert replace(made, job=job, verdict=verdict).full_headline == (
        f"READY; {named} not measured in this shop yet: do a test piece first"
    )
