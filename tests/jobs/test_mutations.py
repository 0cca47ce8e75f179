"""Whatever is done to a job file, it gives a job or mistakes with lines inside the file."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from jobs.job_texts import PLATE, SIGN
from stopout.errors import JobError, Mistake
from stopout.job.record import Job
from stopout.jobs import parse_job

VALUES = st.sampled_from(
    [
        "1",
        "-1",
        "0.5",
        "true",
        "nan",
        "inf",
        '""',
        '"x"',
        '"0 mm"',
        '"-1 mm"',
        '"1e90 mm"',
        '"5 mm"',
        '"5 %"',
        '"40 degBe"',
        "[]",
        "[1, 2]",
        '["1 mm", "2 mm"]',
        '["1 mm", ["2 mm", "1 mm"]]',
        "{}",
        '{ fill = "#aabbcc" }',
        '{ left = "1 mm", bottom = 2 }',
        "1979-05-27",
        "07:32:00",
        "20 mm/s",
        "bare words",
        "'''\nlong\n'''",
        '"front"',
        '"back"',
        '"auto"',
        '"M30"',
        "9" * 40,
    ]
)


@st.composite
def mutated(draw: st.DrawFn) -> bytes:
    """An example job with a few lines deleted, doubled, moved, renamed or given another value."""
    lines = draw(st.sampled_from([PLATE, SIGN])).split("\n")
    for _ in range(draw(st.integers(min_value=1, max_value=4))):
        place = draw(st.integers(min_value=0, max_value=len(lines) - 1))
        kind = draw(
            st.sampled_from(["delete", "double", "move", "value", "rename", "cut", "noise"])
        )
        line = lines[place]
        if kind == "delete" and len(lines) > 1:
            del lines[place]
        elif kind == "double":
            lines.insert(place, line)
        elif kind == "move":
            lines.insert(draw(st.integers(0, len(lines) - 1)), lines.pop(place))
        elif kind == "value" and "=" in line:
            lines[place] = f"{line.split('=')[0]}= {draw(VALUES)}"
        elif kind == "rename" and "=" in line:
            lines[place] = draw(st.text("abcdeor_-.\"' ", min_size=1, max_size=9)) + line
        elif kind == "cut":
            lines[place] = line[: draw(st.integers(0, len(line)))]
        elif kind == "noise":
            lines[place] = line + draw(st.text(max_size=5))
    return "\n".join(lines).encode("utf-8", "surrogatepass")


def judge(data: bytes) -> Job | tuple[Mistake, ...]:
    try:
        return parse_job(data, file="job.toml")
    except JobError as error:
        return error.mistakes


@given(mutated())
def test_a_changed_job_file_gives_a_job_or_mistakes_with_lines_inside_it(data: bytes) -> None:
    found = judge(data)
    if isinstance(found, Job):
        return
    assert found
    for mistake in found:
        assert mistake.line is None or 1 <= mistake.line <= data.count(b"\n") + 1
        assert mistake.message
        assert "\n" not in mistake.message
        assert len(mistake.message) < 400
        assert mistake.field
    assert [m.line or 10**9 for m in found] == sorted(m.line or 10**9 for m in found)
    assert judge(data) == found


@given(st.binary(max_size=200))
def test_any_bytes_give_mistakes(data: bytes) -> None:
    assert not isinstance(judge(data), Job)
