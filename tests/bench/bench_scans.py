"""How true the reading of coupons is: 200 seeds, and a table of looks.

PYTHONPATH=src:tests python tests/bench/bench_scans.py [seeds] [looks]

Prints the share of truths inside the 95 % intervals, and the errors of spot, threshold, undercut
and scale for each look.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from coupons.scan_renderer import Look, Truth, clearing_coupon, etch_coupon, render
from stopout.coupons import layout_from_dict
from stopout.coupons.fit_clearing import AxisFit
from stopout.coupons.read import read_coupon

SPOT, THRESHOLD = "spot", "threshold"


def small_coupon():
    """A coupon cropped to what a fit needs: two repeats, short lines, no patches or labels."""
    coupon = clearing_coupon(repeats=2)
    for line in coupon["lines"]:
        (x0, y0), (x1, y1) = line["from_mm"], line["to_mm"]
        line["to_mm"] = [min(x1, x0 + 4.0), y1] if y0 == y1 else [x1, min(y1, y0 + 4.0)]
    return {**coupon, "patches": [], "other": []}


def read(coupon, truth, look):
    """A rendered coupon read back, in the tone it was drawn in."""
    image = render(coupon, truth, look).astype(np.float32)
    layout = layout_from_dict(coupon)
    tone = "plain" if look.gamma == 1 else "auto"
    return read_coupon([("luma", image)], layout, stated_dpi=look.dpi, tone=tone)


def seed_look(seed, dpi):
    """Another scan for each seed: turn, light, blur, polarity."""
    rng = np.random.default_rng(seed)
    is_dark = bool(rng.integers(2))
    return Look(
        dpi=dpi,
        rotation_deg=float(rng.uniform(-8, 8)),
        quarter_turns=int(rng.integers(4)),
        tilt=(float(rng.uniform(-0.1, 0.1)), float(rng.uniform(-0.1, 0.1))),
        scale=float(rng.uniform(0.99, 1.01)),
        blur_px=float(rng.uniform(0.7, 1.6)),
        noise=float(rng.uniform(1, 5)),
        uneven=float(rng.uniform(0, 0.2)),
        paint=195.0 if is_dark else 50.0,
        cleared=55.0 if is_dark else 205.0,
        dust=int(rng.integers(0, 60)),
        seed=seed,
    )


def coverage(seeds, dpi):
    """Share of truths inside the intervals, and relative errors, over many seeds."""
    coupon = small_coupon()
    held = {SPOT: [], THRESHOLD: []}
    errors = {SPOT: [], THRESHOLD: []}
    scale = []
    refused = 0
    for seed in range(seeds):
        truth = Truth(width_sd_mm=0.002, roughness_mm=0.001)
        look = seed_look(seed, dpi)
        try:
            reading = read(coupon, truth, look)
        except ValueError as error:
            refused += 1
            print(f"seed {seed}: refused: {error}")
            continue
        scale.append(reading.scale_error - (look.scale - 1))
        for fit in reading.axes:
            if not isinstance(fit, AxisFit):
                refused += 1
                print(f"seed {seed}: across {fit.axis} refused: {fit.reason}")
                continue
            true = {
                SPOT: (fit.spot_mm, 2 * truth.radius_mm[fit.axis]),
                THRESHOLD: (fit.threshold_j_per_mm, truth.threshold_j_per_mm[fit.axis]),
            }
            for name, (found, wanted) in true.items():
                low, high = fit.interval(found)
                held[name].append(low <= wanted <= high)
                errors[name].append(found.value / wanted - 1)
    print(f"\n{seeds} seeds at {dpi:g} dpi, {refused} refused")
    for name in held:
        bias, spread = 100 * np.mean(errors[name]), 100 * np.std(errors[name])
        worst = 100 * np.abs(errors[name]).max()
        print(
            f"  {name:10s} inside 95 % interval: {100 * np.mean(held[name]):.1f} %; "
            f"bias {bias:+.2f} %, spread {spread:.2f} %, worst {worst:.2f} %"
        )
    print(f"  scale      worst {100 * np.abs(scale).max():.4f} %")


def looks():
    """One row for each look and resolution."""
    truth = Truth(width_sd_mm=0.002, roughness_mm=0.001)
    etched = Truth(undercut_mm=0.06, width_sd_mm=0.002)
    variants = {
        "plain": {},
        "turned, noisy": {"rotation_deg": 8, "noise": 6},
        "soft": {"rotation_deg": 2, "blur_px": 2},
        "sharp": {"rotation_deg": -2, "blur_px": 0.4},
        "by hand": {"rotation_deg": -5, "tilt": (0.2, 0.15), "uneven": 0.25},
        "dusty": {"rotation_deg": 3, "dust": 400},
        "faint": {"rotation_deg": 3, "cleared": 110, "paint": 70, "noise": 3},
        "encoded": {"rotation_deg": 3, "gamma": 2.2},
    }
    for dpi in (1200, 600):
        for name, changes in variants.items():
            started = time.perf_counter()
            reading = read(clearing_coupon(symmetric=True), truth, Look(dpi=dpi, **changes))
            took = time.perf_counter() - started
            parts = []
            for fit in reading.axes:
                if isinstance(fit, AxisFit):
                    w, t = truth.radius_mm[fit.axis], truth.threshold_j_per_mm[fit.axis]
                    parts.append(
                        f"{fit.axis}: spot {50 * fit.spot_mm.value / w - 100:+.2f} %, "
                        f"threshold {100 * fit.threshold_j_per_mm.value / t - 100:+.2f} %"
                    )
            etch = read(etch_coupon(), etched, Look(dpi=dpi, **changes)).etch
            parts.append(f"undercut {1000 * etch.undercut_mm.value - 60:+.2f} um")
            print(f"{dpi:5d} dpi {name:14s} {'; '.join(parts)}; {took:.1f} s")


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    if len(sys.argv) > 2 and sys.argv[2] == "looks":
        looks()
    coverage(count, 1200)
    coverage(count, 600)
