"""Each number of a job at its possible bounds: no text may hold what cannot be measured.

    python tests/bench/bench_extremes.py [--workers 1] [--tables etch,bath]

The keys come from the job model, each tried in a small job of a road on which it has a meaning.
Prints each fault once, with the value that did it; a job that takes more than the budget of a run,
which the command would end in words, is told and counted by itself.
"""

from __future__ import annotations

import argparse
import sys
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from workers import OVER, trials

from cli.extremes import bounds, faults, texts_of


def main():
    """Plan a job at each bound; the exit status is 1 where there is a fault."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--workers", type=int, default=1)
    options.add_argument("--tables", default="")
    given = options.parse_args()
    asked = given.tables.split(",") if given.tables else None
    jobs = [one for one in bounds() if asked is None or one[0][0] in asked]
    seen, done, refused, over, slowest = set(), 0, 0, 0, 0.0
    told = trials(lambda k: tried(jobs[k][2]), range(len(jobs)), workers=given.workers)
    for index, said, seconds, _ in told:
        if index is None:
            continue
        done, refused, slowest = done + 1, refused + (said == "refused"), max(slowest, seconds)
        over += said == OVER
        if said.startswith("fault") and said not in seen:
            seen.add(said)
            path, value, _ = jobs[index]
            print(f"{'.'.join(map(str, path))} = {value}: {said}", flush=True)
    seen -= {OVER}
    print(f"{done} jobs, {refused} refused, {over} ended by the budget, {len(seen)} faults, "
          f"slowest {slowest:.0f} s")  # fmt: skip
    return int(bool(seen))


def tried(text):
    """What a job comes to: nothing, "refused" or "fault: ..."."""
    try:
        texts = texts_of(text)
    except Exception as fault:
        last = traceback.extract_tb(fault.__traceback__)[-1]
        return f"fault: {type(fault).__name__} {last.filename}:{last.lineno} {fault}"
    if found := list(faults(texts)):
        return f"fault: {found[0][0]} says {found[0][1]} (and {len(found) - 1} more)"
    return "refused" if "refusal" in texts else ""


if __name__ == "__main__":
    sys.exit(main())
