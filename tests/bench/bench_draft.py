"""How long a draft takes: the first of a process, and after a change of the job or the artwork.

    python tests/bench/bench_draft.py [JOB.toml ...]

Processor seconds of all threads. "A shape moved": one element of the SVG is shifted by 0.2 mm, as
at a save while one draws; "another depth": every shape has to be looked at again.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
import time
from pathlib import Path

import stopout

DEMO = Path(__file__).resolve().parents[2] / "demo"


def spent(work) -> float:
    """Return the processor time of a piece of work."""
    before = time.process_time()
    work()
    return time.process_time() - before


def moved(svg: str) -> str:
    """Shift the last text of a drawing, or its last path."""
    tags = list(re.finditer(r"<(text|path|rect|circle)\b", svg))
    texts = [tag for tag in tags if tag[1] == "text"]
    at = (texts or tags)[-1].start()
    end = re.search(r"</text>|/>", svg[at:]).end() + at
    return f'{svg[:at]}<g transform="translate(0.2 0)">{svg[at:end]}</g>{svg[end:]}'


def drafts(job: Path) -> list[tuple[str, float]]:
    """Draft a job over and over, as its editor would."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(shutil.copytree(job.parent.parent, Path(folder) / "demo")) / job.parent.name
        file = home / job.name

        def draft() -> None:
            stopout.plan_job(stopout.read_job(file), draft=True)

        rows = [("first", spent(draft)), ("as it was", spent(draft))]
        text = file.read_text()
        file.write_text(re.sub(r'revision = "[^"]*"', 'revision = "Z"', text))
        rows.append(("a word of the job", spent(draft)))
        art = home / re.search(r'file = "([^"]*)"', text)[1]
        if art.suffix == ".svg":
            art.write_text(moved(art.read_text()))
            rows.append(("a shape moved", spent(draft)))
        deeper = re.sub(
            r'depth = "([0-9.]+) mm"', lambda m: f'depth = "{float(m[1]) * 0.9:.4f} mm"', text
        )
        if deeper != text:
            file.write_text(deeper)
            rows.append(("another depth", spent(draft)))
        plan = stopout.plan_job(stopout.read_job(file), draft=True)
        rows.append(("its folder", spent(lambda: stopout.plan_files(plan))))
    return rows


def main() -> None:
    """Print a line a job."""
    for job in [Path(word) for word in sys.argv[1:]] or sorted(DEMO.glob("*/*.toml")):
        rows = drafts(job.resolve())
        print(
            f"{job.stem}: " + "; ".join(f"{what} {took:.2f} s" for what, took in rows), flush=True
        )


if __name__ == "__main__":
    main()
