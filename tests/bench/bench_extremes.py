"""Each number of a job at its possible bounds: no text may hold what cannot be measured.

    python tests/bench/bench_extremes.py [--seconds 600]

Prints each fault once, with the value that did it.
"""

from __future__ import annotations

import argparse
import sys
import time
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from cli.extremes import BATH, bounds, faults, texts_of, with_value
from cli.shop_files import JOB


def main():
    """Plan a job at each bound; the exit status is 1 where there is a fault."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seconds", type=float, default=1e9)
    options.add_argument("--tables", default="")
    given = options.parse_args()
    began, seen, done, refused = time.monotonic(), set(), 0, 0
    for table, key, text in bounds():
        if time.monotonic() - began > given.seconds:
            break
        if given.tables and table not in given.tables.split(","):
            continue
        start = time.process_time()
        try:
            texts = texts_of(with_value(JOB + BATH, table, key, text))
            found = list(faults(texts))
            refused += "refusal" in texts
        except Exception as fault:
            last = traceback.extract_tb(fault.__traceback__)[-1]
            found = [("fault", f"{type(fault).__name__} {last.filename}:{last.lineno} {fault}")]
        taken = time.process_time() - start
        if taken > 20:
            found.append(("time", f"{taken:.0f} s"))
        done += 1
        for where, what in found:
            if (where, what) not in seen:
                seen.add((where, what))
                print(f"{table}.{key} = {text}: {where}: {what}", flush=True)
    print(f"{done} jobs, {refused} refused, {len(seen)} faults")
    return int(bool(seen))


if __name__ == "__main__":
    sys.exit(main())
