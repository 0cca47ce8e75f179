"""How long a draft takes: the first of a process, and after a change of the job or the artwork.

    python tests/bench/bench_draft.py [JOB.toml ...]

Processor seconds of all threads and copies; in brackets, where there is one, what went by until the
first look of it. "A shape moved": one element of the SVG is shifted by 0.2 mm, as at a save while
one draws; "another text": a letter more in the words that the job sets; "another depth": every
shape has to be looked at again. A series is drafted once.
"""

from __future__ import annotations

import re
import resource
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import stopout

DEMO = Path(__file__).resolve().parents[2] / "demo"


def spent_s() -> float:
    """Return what this process and its copies have taken."""
    used = map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(one.ru_utime + one.ru_stime for one in used)


def drafted(file: Path) -> tuple[stopout.Plan, str]:
    """Draft a job; return the draft and what it took."""
    looks: list[float] = []
    before = spent_s()
    plan = stopout.plan_job(
        stopout.read_job(file), draft=True, glimpse=lambda _: looks.append(spent_s())
    )
    took = f"{spent_s() - before:.2f} s"
    return plan, f"{took} ({looks[0] - before:.2f})" if looks else took


def moved(svg: str) -> str:
    """Shift the last text of a drawing, or its last path."""
    tags = list(re.finditer(r"<(text|path|rect|circle)\b", svg))
    texts = [tag for tag in tags if tag[1] == "text"]
    at = (texts or tags)[-1].start()
    end = re.search(r"</text>|/>", svg[at:]).end() + at
    return f'{svg[:at]}<g transform="translate(0.2 0)">{svg[at:end]}</g>{svg[end:]}'


def changes(job: Path) -> Iterator[str]:
    """Change a job or its artwork, one thing after another, and say what was changed."""
    text = job.read_text()
    name = re.search(r'^name = "[^"]*"', text, re.M)[0]
    job.write_text(text := text.replace(name, 'name = "Another"'))
    yield "a word of the job"
    art = re.search(r'^file = "([^"]*\.svg)"', text, re.M)
    if art:
        art = job.parent / art[1]
        art.write_text(moved(art.read_text()))
        yield "a shape moved"
    if words := re.search(r'^words = "', text, re.M):
        job.write_text(text := f"{text[: words.end()]}A{text[words.end() :]}")
        yield "another text"
    deeper = re.sub(
        r'^depth = "([0-9.]+) mm"', lambda m: f'depth = "{float(m[1]) * 0.9:.4f} mm"', text,
        flags=re.M,
    )  # fmt: skip
    if deeper != text:
        job.write_text(deeper)
        yield "another depth"


def drafts(job: Path) -> Iterator[str]:
    """Draft a job over and over, as its editor would."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(shutil.copytree(job.parent.parent, Path(folder) / "demo")) / job.parent.name
        file = home / job.name
        plan, took = drafted(file)
        yield f"first {took}"
        if plan.job.series is None:
            yield f"as it was {drafted(file)[1]}"
            for what in changes(file):
                plan, took = drafted(file)
                yield f"{what} {took}"
        before = spent_s()
        stopout.plan_files(plan)
        yield f"its folder {spent_s() - before:.2f} s"


def main() -> None:
    """Print a line a job."""
    for job in [Path(word) for word in sys.argv[1:]] or sorted(DEMO.glob("*/*.toml")):
        print(job.stem, end=": ", flush=True)
        print("; ".join(drafts(job.resolve())), flush=True)


if __name__ == "__main__":
    main()
