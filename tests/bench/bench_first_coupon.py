"""200 made-up machines and paints: does a coupon from five facts find the threshold?

`python tests/bench/bench_first_coupon.py [HOW_MANY]`, with tests/ on the path; its figures stand in
docs/explanation/first-measurement.md.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from coupons.made_machines import READ_SD_MM, tried


def main(how_many: int) -> None:
    """Try them all and print the shares."""
    made = [tried(seed) for seed in range(how_many)]
    first = np.array([one.first_off for one in made])
    second = np.array([one.second_off for one in made])
    print(f"{how_many} machines, lines read to {1000 * READ_SD_MM:.0f} um")
    for name, share in (
        ("dark and clear levels on both axes", np.mean([one.brackets for one in made])),
        ("three levels clear on both axes", np.mean([one.three_clear for one in made])),
        ("first coupon tells spot and threshold", np.mean([one.fits[0] for one in made])),
        ("second coupon tells the spot to 3 %", np.mean(second < 0.03)),
    ):
        print(f"  {name}: {100 * share:.1f} %")
    for name, off in (("first", first), ("second", second)):
        half, most = np.nanpercentile(off, [50, 95])
        print(f"  spot of the {name}, worse axis: median {100 * half:.1f} %, 95 % within "
              f"{100 * most:.1f} %")  # fmt: skip
    print("  without a first result:", [one.seed for one in made if not one.fits[0]])


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
