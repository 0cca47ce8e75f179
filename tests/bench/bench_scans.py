"""How true the reading of coupons is: 200 painted scans by seed, and photographs.

PYTHONPATH=src:tests python tests/bench/bench_scans.py ROWS.jsonl [end] [photographs] [first]

Prints the tables of docs/explanation/scan-errors.md for the seeds first to end - 1, 0 to 199 where
they are left out. Every seed's rows are added to ROWS.jsonl as it is done, and a seed that stands
there is not drawn again: a run may be stopped and taken up; some 15 minutes for all on two cores.
Even seeds have 600 dpi, odd ones 1200. Each seed makes a clearing and an etch coupon anew: other
turn, stretch, skew, wobble, lamp, paint, grain, blur, halo, noise, dust, scatter of the lines, and
in three of ten another curve than sRGB. The sizes of the common errors were set on seeds 0 to 79.
"""

from __future__ import annotations

import json
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np

from coupons.painted_scan import (
    Made,
    any_photograph,
    any_sight,
    paint,
    small_clearing_coupon,
    small_etch_coupon,
)
from stopout.coupons import layout_from_dict
from stopout.scans.fitting.clearing import AxisFit
from stopout.scans.reading.whole import read_coupon

# Every fourth seed is also read without being told its tone.
UNTOLD = 4
BAR_MM = 40.0


def made_for(seed, undercut_mm=0.0):
    """What is on the coupons of a seed; the discs of a clearing coupon are a little too large."""
    rng = np.random.default_rng([seed, 3])
    return Made(
        disc_mm=0.0 if undercut_mm else float(rng.uniform(0, 0.02)),
        line_sd_mm=float(rng.uniform(0.0005, 0.003)),
        ragged_mm=float(rng.uniform(0.0005, 0.002)),
        undercut_mm=undercut_mm,
    )


def rows_of(reading, made):
    """(what, error, standard deviation, whether the 95 % range holds) for all that is read."""
    rows = []
    for fit in reading.axes:
        if not isinstance(fit, AxisFit):
            rows.append(("refused", 0.0, 0.0, False))
            continue
        for what, found, true in (
            ("spot", fit.spot_mm, 2 * made.radius_mm[fit.axis]),
            ("threshold", fit.threshold_j_per_mm, made.threshold_j_per_mm[fit.axis]),
        ):
            low, high = fit.interval(found)
            error, sd = 100 * (found.value / true - 1), 100 * found.sd / true
            rows.append((what, error, sd, low <= true <= high))
    if reading.etch is not None:
        low, high = reading.etch.interval(reading.etch.undercut_mm)
        error = 1000 * (reading.etch.undercut_mm.value - made.undercut_mm)
        sd = 1000 * reading.etch.undercut_mm.sd
        rows.append(("undercut", error, sd, low <= made.undercut_mm <= high))
    return rows


def scans_of(seed):
    """All rows of one seed, with its resolution and how the tone was found."""
    cv2.setNumThreads(1)
    dpi = (600, 1200)[seed % 2]
    undercut = float(np.random.default_rng([seed, 4]).uniform(0.03, 0.09))
    rows = []
    for coupon, made, sight in (
        (small_clearing_coupon(), made_for(seed), any_sight(seed, dpi)),
        (small_etch_coupon(), made_for(seed, undercut), any_sight(seed + 5000, dpi)),
    ):
        image = paint(coupon, made, sight).astype(np.float32)
        tones = ("light", "auto") if seed // 2 % UNTOLD == 0 else ("light",)
        for tone in tones:
            rows += read_rows(image, coupon, made, dpi, tone)
    return [(dpi, *row) for row in rows]


def read_rows(image, coupon, made, dpi, tone, **more):
    """Rows of one reading, or of its refusal."""
    try:
        reading = read_coupon(
            [("luma", image)], layout_from_dict(coupon), stated_dpi=dpi, tone=tone, **more
        )
    except ValueError as error:
        return [(tone, "refused", 0.0, 0.0, str(error)[:80])]
    how = "told" if tone == "light" else f"{reading.tone}, {reading.tone_by}"
    return [(how, *row) for row in rows_of(reading, made)]


def photographs_of(seed):
    """Rows of one photograph of each coupon with its bar."""
    cv2.setNumThreads(1)
    undercut = float(np.random.default_rng([seed, 4]).uniform(0.03, 0.09))
    rows = []
    for coupon, made, number in (
        (small_clearing_coupon(), made_for(seed), seed),
        (small_etch_coupon(), made_for(seed, undercut), seed + 5000),
    ):
        image = paint(coupon, made, any_photograph(number, BAR_MM)).astype(np.float32)
        rows += read_rows(image, coupon, made, None, "light", bar_mm=BAR_MM)
    return [("photograph", *row) for row in rows]


def table(rows):
    """Lines of a table in the documents' form."""
    yield "| resolution | tone | what | read | bias | spread | claimed | inside 95 % |"
    yield "| --- | --- | --- | ---: | ---: | ---: | ---: | ---: |"
    for key in sorted({row[:3] for row in rows if row[2] != "refused"}, key=str):
        mine = [row for row in rows if row[:3] == key]
        error, sd = (np.array([row[k] for row in mine]) for k in (3, 4))
        unit = "um" if key[2] == "undercut" else "%"
        yield (
            f"| {key[0]} | {key[1]} | {key[2]} | {len(mine)} | {error.mean():+.2f} {unit} | "
            f"{error.std():.2f} {unit} | {np.sqrt((sd**2).mean()):.2f} {unit} | "
            f"{100 * np.mean([row[5] for row in mine]):.1f} % |"
        )
    for row in rows:
        if row[2] == "refused":
            yield f"refused: {row}"


def whole(rows):
    """Shares inside the ranges over all scans whose tone was told."""
    for what in ("spot", "threshold", "undercut"):
        mine = [row[5] for row in rows if row[2] == what and row[1] == "told"]
        if mine:
            yield f"{what}: {100 * np.mean(mine):.1f} % of {len(mine)} inside their 95 % range"


def gathered(pool, make, seeds, file):
    """Rows of all seeds: those that the file holds, and the others made now and added to it."""
    kind = make.__name__
    known = {}
    if file.exists():
        for line in file.read_text(encoding="utf-8").splitlines():
            one = json.loads(line)
            known[one["kind"], one["seed"]] = [tuple(row) for row in one["rows"]]
    missing = [seed for seed in seeds if (kind, seed) not in known]
    for seed, rows in zip(missing, pool.map(make, missing), strict=True):
        known[kind, seed] = rows
        plain = [[*row[:5], bool(row[5]) if row[2] != "refused" else row[5]] for row in rows]
        with file.open("a", encoding="utf-8") as out:
            out.write(json.dumps({"kind": kind, "seed": seed, "rows": plain}) + "\n")
    return [row for seed in seeds if (kind, seed) in known for row in known[kind, seed]]


def main():
    """Seeds and photographs as asked."""
    file = Path(sys.argv[1])
    last, photographs, first = (
        int(sys.argv[k]) if len(sys.argv) > k else default
        for k, default in ((2, 200), (3, 24), (4, 0))
    )
    with ProcessPoolExecutor(2) as pool:
        scans = gathered(pool, scans_of, range(first, last), file)
        print("\n".join([*table(scans), *whole(scans)]), flush=True)
        seen = gathered(pool, photographs_of, range(photographs), file)
    print("\n".join(table(seen)))


if __name__ == "__main__":
    main()
