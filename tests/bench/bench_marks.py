"""Marks from a micrometre to a centimetre against spots: each planned, and its coupons laid out.

    python tests/bench/bench_marks.py [--workers 1] [--every 1]

Every pair is either refused in words or gives a plan and two coupons in which no number is beyond
what can be measured. A pair that takes more than the budget of a run, which the command would end
in words, is told and counted by itself. `--every 9` tries each ninth pair.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from workers import OVER, trials

from cli.marks import MARKS_MM, SPOTS_MM, tried


def main():
    """Try every pair; the exit status is 1 where there is a fault."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--workers", type=int, default=1)
    options.add_argument("--every", type=int, default=1)
    given = options.parse_args()
    pairs = [(mark, spot) for mark in MARKS_MM for spot in SPOTS_MM][:: given.every]
    told = trials(lambda k: tried(*pairs[k]), range(len(pairs)), workers=given.workers)
    done, refused, over, faults, slowest = 0, 0, 0, 0, 0.0
    for index, said, seconds, _ in told:
        if index is None:
            continue
        done, refused, slowest = done + 1, refused + (said == "refused"), max(slowest, seconds)
        if said.startswith("fault"):
            over, faults = over + (said == OVER), faults + (said != OVER)
            print("mark {:g} mm, spot {:g} mm: ".format(*pairs[index]) + said, flush=True)
    print(f"{done} pairs, {refused} refused, {over} ended by the budget, {faults} faults, "
          f"slowest {slowest:.1f} s")  # fmt: skip
    return int(bool(faults))


if __name__ == "__main__":
    sys.exit(main())
