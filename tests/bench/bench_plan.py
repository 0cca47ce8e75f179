"""How long a plan takes, stage by stage, beside a plain reference made in the same run.

    python tests/bench/bench_plan.py [JOB.toml ...]

Times are processor seconds, which a busy machine lengthens less than the clock: first those of the
whole command, its processes' with them, then those of each stage in one process. The reference is
what a plain script would do with a general geometry library: erode the artwork by the reach, grow
it again, take the difference, and cut rows one spacing apart. The ratio to it counts; seconds are
for orientation.
"""

from __future__ import annotations

import contextlib
import functools
import importlib
import io
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from pathlib import Path

import numpy as np
import shapely

DEMO = Path(__file__).resolve().parents[2] / "demo"
STAGES = {
    "stopout.artwork.reading.open_artwork": "reading the artwork",
    "stopout.planning.signs.layers.plan_layers": "coats in register",
    "stopout.mask.lands.widen_lands": "mask",
    "stopout.mask.openings.make_mask": "mask",
    "stopout.planning.opening.masks.patched": "mask",
    "stopout.mask.widths.narrowest_of": "narrowest widths",
    "stopout.mask.widthmap.local_widths": "narrowest widths",
    "stopout.planning.measures.measuring.stays_of": "narrowest widths",
    "stopout.clearing.plan.clear": "clearing paths",
    "stopout.program.write.write_program": "program",
    "stopout.program.read.read_program": "program",
    "stopout.outcome.sweep.sweep": "prediction",
    "stopout.outcome.advance.advance": "prediction",
    "stopout.outcome.judge.judge": "held against the artwork",
    "stopout.planning.verdict.drawn.changes_of": "held against the artwork",
    "stopout.mask.bridges.lost_bridges": "held against the artwork",
    "stopout.planning.opening.patches.shared_out": "held against the artwork",
    "stopout.planning.findings.kinds.coat_findings": "findings of a coat",
    "stopout.planning.verdict.cut.lay": "lettering on the plate",
    "stopout.planning.road.front.prove_front": "front of a sign",
    "stopout.planning.verdict.reached.reach_verdict": "verdict, remedies tried",
    "stopout.pictures.piece.preview.preview_png": "preview",
    "stopout.sheet.store.sheet_files": "sheet",
}


class Clock:
    """Processor time of each stage, the outermost one's, on whichever thread it runs."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = defaultdict(float)
        self.here = threading.local()
        self.masks: list[tuple] = []

    def timed(self, work, label):
        @functools.wraps(work)
        def run(*args, **kwargs):
            if getattr(self.here, "busy", False):
                return work(*args, **kwargs)
            if work.__name__ == "patched":
                target, _, how = args
                self.masks.append((target, how.undercut_mm, how.mark_mm))
            self.here.busy, before = True, time.thread_time()
            try:
                return work(*args, **kwargs)
            finally:
                self.here.busy = False
                self.spent[label] += time.thread_time() - before

        return run

    def watch(self) -> None:
        """Put the clock round every stage, wherever its function has been imported."""
        for path, label in STAGES.items():
            module, _, name = path.rpartition(".")
            work = getattr(importlib.import_module(module), name)
            importlib.import_module("stopout.planning.road.whole")
            timed = self.timed(work, label)
            for loaded in [m for key, m in sys.modules.items() if key.startswith("stopout")]:
                if vars(loaded).get(name) is work:
                    setattr(loaded, name, timed)


def plain_s(target, undercut_mm: float, mark_mm: tuple[float, float]) -> float:
    """Return what the plain way takes for a region: offsets, a difference, rows cut to it."""
    before = time.process_time()
    centres = plain_centres(target, undercut_mm, mark_mm)
    shapely.intersection(plain_rows(target, mark_mm), centres)
    return time.process_time() - before


def plain_centres(target, undercut_mm: float, mark_mm: tuple[float, float]):
    """Erode a region by the reach and take what growing it again leaves: the eroded region."""
    reach = undercut_mm + max(mark_mm) / 2
    centres = target.buffer(-reach, quad_segs=32)
    target.difference(centres.buffer(reach, quad_segs=32))
    return centres


def plain_rows(target, mark_mm: tuple[float, float]):
    """Level lines across a region, one spacing apart, from its foot up."""
    x0, y0, x1, y1 = target.bounds
    y = np.arange(y0, y1, 0.7 * min(mark_mm))
    ends = [np.stack([np.full_like(y, x), y], axis=1) for x in (x0, x1)]
    return shapely.linestrings(np.stack(ends, axis=1))


def plan_s(job: Path) -> None:
    """Plan a job in this process, in one process alone: copies would be missed by the clock."""
    from stopout.cli import app
    from stopout.library import cores
    from stopout.planning.opening import apart

    app.can_bound = lambda: False
    cores.cores_here = apart.cores = lambda: 1
    with tempfile.TemporaryDirectory() as folder:
        sys.argv = ["stopout", "plan", str(job), "--out", str(Path(folder) / "plan")]
        quiet = io.StringIO()
        with (
            contextlib.redirect_stdout(quiet),
            contextlib.redirect_stderr(quiet),
            contextlib.suppress(SystemExit),
        ):
            app.main()


def cold_s(*words: str) -> tuple[float, float]:
    """Return a command's processor seconds, its processes' with them, and those by the clock."""
    began, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    run = "from stopout.cli.app import main; main()"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    subprocess.run([sys.executable, "-c", run, *words], check=False, **quiet)
    wall, after = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, wall


def tell(job: Path) -> None:
    """Plan a job in this fresh process; print where its time went."""
    clock = Clock()
    clock.watch()
    clock.spent["loading what it needs"] = time.process_time()
    plan_s(job)
    whole = time.process_time()
    plain = sum(plain_s(*coat) for coat in clock.masks)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    times = f", {whole / plain:.0f} times the plain reference" if plain else ""
    print(f"  in one process {whole:.2f} s{times}; peak {peak:.0f} MiB")
    rest = whole - sum(clock.spent.values())
    for label, spent in [*sorted(clock.spent.items(), key=lambda e: -e[1]), ("the rest", rest)]:
        print(f"  {label:<26}{spent:6.2f} s {100 * spent / whole:4.0f} %")


def main() -> None:
    """Print the table of each job named, or of every demo job."""
    jobs = [Path(word) for word in sys.argv[1:]] or sorted(DEMO.glob("*/*.toml"))
    print(f"--help, cold: {cold_s('--help')[0]:.2f} s")
    for job in jobs:
        with tempfile.TemporaryDirectory() as folder:
            spent, wall = cold_s("plan", str(job), "--out", str(Path(folder) / "plan"))
        print(f"{job.stem}: {spent:.2f} s; {wall:.1f} s by the clock", flush=True)
        subprocess.run([sys.executable, __file__, "--one", str(job)], check=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        tell(Path(sys.argv[2]))
    else:
        main()
