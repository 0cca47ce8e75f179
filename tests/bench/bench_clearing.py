"""Times of clearing paths by the motion model: ours, the plain ways, the floors.

PYTHONPATH=src:tests python tests/bench/bench_clearing.py

Four pieces at 20 and 100 mm/s. The plain ways are laid here, not by the planner: the same fill
lines and outlines with full runs-up at both ends; line by line one way with blanks not skipped,
line by line both ways, and whichever path begins nearest. The last lines are those of a
picture of 700,000 dots (see tests/clearing/test_large_picture.py).
"""

from __future__ import annotations

import math
import time

import numpy as np
import shapely
from lettering_regions import lettering
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from stopout.clearing import clear, measure_program, plan_speeds
from stopout.clearing.filling.fill import areas_to_fill, left_by_outlines, rows_on
from stopout.values import Machine, Moves

MARK = (0.10, 0.10)
SPACING = 0.085
POWER_AT_20 = 0.2
SPEEDS = (20.0, 100.0)
MACHINE = Machine(
    spot_mm=(0.17, 0.17),
    spot_means="1/e2",
    wavelength_nm=450.0,
    power_w=5.5,
    top_speed_mm_s=100.0,
    acceleration_mm_s2=800.0,
    step_mm=0.005,
    bed_mm=(400.0, 400.0),
    cornering_mm=0.01,
    power_word=1000.0,
    beam_on="M3",
    power_follows_speed=True,
)


def centres_of(opening):
    """Where a round mark's centre goes."""
    shrunk = shapely.buffer(opening, -MARK[0] / 2, quad_segs=16)
    return MultiPolygon([part for part in shapely.get_parts(shrunk) if part.area > 1e-6])


def plate():
    """A border, lettering of three heights, a wheel and a field, 100 x 60 mm."""
    parts = [
        box(3, 3, 97, 57).difference(box(4.2, 4.2, 95.8, 55.8)),
        lettering("Sluice GATE 25", capital_mm=6, at=(8, 44)),
        lettering("raise the pawl before turning", capital_mm=3, at=(8, 35)),
        lettering("tide mill, lower pond, winch 2", capital_mm=2.5, at=(8, 28)),
        box(8, 8, 60, 20),
        Point(80, 20).buffer(9, 64).difference(Point(80, 20).buffer(7, 64)),
        Point(80, 20).buffer(2.5, 64),
    ]
    return MultiPolygon(list(shapely.get_parts(shapely.union_all(parts))))


def dots():
    """300 discs of 0.6 mm at random, none touching another."""
    rng = np.random.default_rng(5)
    kept: list[tuple[float, float]] = []
    while len(kept) < 300:
        at = rng.uniform(1, 49, 2)
        if all(math.dist(at, other) > 0.8 for other in kept):
            kept.append((float(at[0]), float(at[1])))
    return MultiPolygon([Point(at).buffer(0.3, 32) for at in kept])


PIECES = {
    "plate": plate,
    "small lettering": lambda: lettering("Raise GATE 25, keep pawl", capital_mm=3, at=(1, 1)),
    "random dots": dots,
    "solid field": lambda: MultiPolygon([box(2, 2, 94, 52)]),
}


def pieces_of(centres, along):
    """Fill lines as rows of spans, and outlines, as plain points."""
    laid = {"mark_mm": MARK, "spacing_mm": SPACING, "along": along}
    left = left_by_outlines(shapely.get_parts(centres), mark_mm=MARK)
    area = shapely.union_all(areas_to_fill(left, **laid))
    rows = rows_on(area, centres, **laid, bridge_mm=0.0)
    lines: dict[int, list] = {}
    for row in rows:
        lines.setdefault(row.index, []).append(row)
    laid = [
        (group[0].height_mm, np.vstack([row.spans_mm for row in group]))
        for _, group in sorted(lines.items())
    ]
    rings = [
        shapely.get_coordinates(ring)
        for ring in shapely.simplify(shapely.get_rings(shapely.get_parts(centres)), 0.0003)
    ]
    return laid, rings


class Plain:
    """Lays strokes one after another with full runs-up, then takes the time.

    Outlines are slowed nowhere for the dose: that only helps the plain ways.
    """

    def __init__(self, speed):
        self.speed = speed
        self.run = speed**2 / (2 * MACHINE.acceleration_mm_s2)
        self.rows = []

    def stroke(self, points, is_on):
        points = np.asarray(points, dtype=float)
        steps = np.diff(points, axis=0)
        steps = steps / np.hypot(*steps.T)[:, None]
        self.rows.append((*(points[0] - steps[0] * self.run), True, 0.0))
        self.rows.append((*points[0], False, 0.0))
        self.rows += [
            (*point, False, 1.0 if on else 0.0) for point, on in zip(points[1:], is_on, strict=True)
        ]
        self.rows.append((*(points[-1] + steps[-1] * self.run), False, 0.0))

    def row(self, height, xs, is_on, along):
        ys = np.full(len(xs), height)
        self.stroke(np.column_stack([xs, ys] if along == "x" else [ys, xs]), is_on)

    def time_s(self):
        x, y, rapid, power = (np.array(column) for column in zip(*self.rows, strict=True))
        rapid = rapid.astype(bool)
        moves = Moves(
            x_mm=x,
            y_mm=y,
            rapid=rapid,
            speed_mm_s=np.where(rapid, MACHINE.top_speed_mm_s, self.speed),
            power=power,
        )
        profile = plan_speeds(moves, acceleration_mm_s2=800.0, cornering_mm=0.01)
        return float(profile.time_s[: int(np.flatnonzero(power > 0)[-1]) + 1].sum())


def row_by_row(laid, rings, speed, along, *, both_ways):
    """Each line once from its first to its last mark; outlines after it in the file's order."""
    plain = Plain(speed)
    for k, (height, spans) in enumerate(laid):
        xs = spans.reshape(-1)
        on = np.arange(len(xs) - 1) % 2 == 0
        if both_ways and k % 2:
            xs, on = xs[::-1], on[::-1]
        plain.row(height, xs, on, along)
    for ring in rings:
        plain.stroke(ring, np.ones(len(ring) - 1, dtype=bool))
    return plain.time_s()


def nearest(laid, rings, speed, along):
    """Spans, then outlines, always the one that begins nearest, from either end."""
    plain = Plain(speed)
    ends = np.array(
        [[(a, height), (b, height)] for height, spans in laid for a, b in spans]
    ).reshape(-1, 2, 2)
    if along == "y":
        ends = ends[..., ::-1]
    here = np.zeros(2)
    open_ = np.ones(len(ends), dtype=bool)
    for _ in range(len(ends)):
        index = np.flatnonzero(open_)
        gap = ((ends[index] - here) ** 2).sum(axis=-1)
        k, way = divmod(int(np.argmin(gap)), 2)
        span = ends[index[k]][:: -1 if way else 1]
        open_[index[k]] = False
        plain.stroke(span, [True])
        here = span[1]
    left = list(rings)
    while left:
        best = min(
            ((float(((ring - here) ** 2).sum(axis=1).min()), k) for k, ring in enumerate(left))
        )[1]
        ring = left.pop(best)
        at = int(np.argmin(((ring[:-1] - here) ** 2).sum(axis=1)))
        ring = np.vstack([np.roll(ring[:-1], -at, axis=0), ring[at]])
        plain.stroke(ring, np.ones(len(ring) - 1, dtype=bool))
        here = ring[-1]
    return plain.time_s()


def case(centres, area_mm2, speed):
    """All times of one piece at one speed, in seconds."""
    power = POWER_AT_20 * speed / 20
    begin = time.perf_counter()
    run = clear(
        centres,
        MultiLineString(),
        machine=MACHINE,
        mark_mm=MARK,
        spacing_mm={"x": SPACING, "y": SPACING},
        power=power,
        speed_mm_s=speed,
    )
    took = time.perf_counter() - begin
    times = measure_program(run.moves, machine=MACHINE, power=power, speed_mm_s=speed)
    plain = {"one way": math.inf, "two ways": math.inf, "nearest": math.inf}
    for along in "xy":
        laid, rings = pieces_of(centres, along)
        found = {
            "one way": row_by_row(laid, rings, speed, along, both_ways=False),
            "two ways": row_by_row(laid, rings, speed, along, both_ways=True),
            "nearest": nearest(laid, rings, speed, along),
        }
        plain = {name: min(plain[name], seconds) for name, seconds in found.items()}
    return {
        "ours": times.time_s,
        **plain,
        "path floor": times.time_floor_s,
        "area floor": area_mm2 / (MARK[0] * speed),
        "dose": times.dose_ratio_max,
        "planned in": took,
    }


def main():
    names = ("ours", "one way", "two ways", "nearest", "path floor", "area floor")
    print(f"{'piece':16} {'mm/s':>5} " + " ".join(f"{name:>10}" for name in names), end="")
    print("  ours/one  dose  planned in s")
    for name, make in PIECES.items():
        opening = make()
        for speed in SPEEDS:
            found = case(centres_of(opening), opening.area, speed)
            print(f"{name:16} {speed:5.0f} " + " ".join(f"{found[n]:10.2f}" for n in names), end="")
            print(f"  {found['ours'] / found['one way']:8.3f}  {found['dose']:.2f}", end="")
            print(f"  {found['planned in']:.1f}", flush=True)
    picture()


def picture():
    """Print the times of a large picture of dots."""
    from clearing import test_large_picture as large

    dots = large.BARE_S
    same = large.ours(large.POWER, large.SPEED)
    full = large.ours(1.0, large.SPEED / large.POWER)
    print("\npicture of 700,000 dots, in hours: ", end="")
    print(f"stop at each dot, no dwell {dots / 3600:.1f}; ours {same.time_s / 3600:.2f}, ", end="")
    print(f"at full power {full.time_s / 3600:.2f}; path floor {same.time_floor_s / 3600:.2f}")


if __name__ == "__main__":
    main()
