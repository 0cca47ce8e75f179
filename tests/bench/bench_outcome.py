"""Time and memory of the forward judge on a plate of the usual size; run on request:

PYTHONPATH=src python tests/bench/bench_outcome.py

A 100 x 60 mm plate made of rings and bars: about 12,000 fill rows of 0.2 to 92 mm at 0.05 mm,
about 15,000 outline chords, mark 0.10 x 0.07 mm. The paths are cut with shapely's offsets, which
the judge itself does not use.
"""

from __future__ import annotations

import resource
import statistics
import time

import numpy as np
import shapely
from shapely import LineString, Point, affinity, box

from stopout.outcome import advance, judge, sweep
from stopout.program import prove, read_program, write_program
from stopout.values import Machine, Moves

MARK, UNDERCUT, SPACING = (0.10, 0.07), 0.06, 0.05


def plate():
    """Border, rows of ring and bar shapes as large as lettering, a spoked wheel, a field."""
    shapes = [box(3, 3, 97, 57).difference(box(4.5, 4.5, 95.5, 55.5)), box(6, 5.5, 60, 12)]
    for row, (size, y) in enumerate([(6.0, 44.0), (3.2, 36.0), (3.2, 29.0), (3.0, 22.0)]):
        stroke = size / 6
        for k, x in enumerate(np.arange(8.0, 92.0 - size, size * 0.9)):
            ring = Point(x + size / 3, y + size / 2).buffer(size / 3, 24)
            glyph = ring.difference(Point(x + size / 3, y + size / 2).buffer(size / 3 - stroke, 24))
            if (k + row) % 2:
                glyph = box(x, y, x + stroke, y + size).union(glyph)
            shapes.append(glyph)
    wheel = Point(86, 13).buffer(6.5, 64).difference(Point(86, 13).buffer(5.5, 64))
    spokes = [
        LineString([(86, 13), (86 + 6 * np.cos(a), 13 + 6 * np.sin(a))]).buffer(0.4)
        for a in np.arange(8) * np.pi / 4
    ]
    return shapely.union_all([*shapes, wheel, *spokes]).simplify(0.0005)


def program(target):
    """Fill rows and outlines of what the beam's centre may reach."""
    stretch = MARK[0] / MARK[1]
    mask = affinity.scale(target.buffer(-UNDERCUT), 1, stretch, origin=(0, 0))
    centres = affinity.scale(mask.buffer(-MARK[0] / 2), 1, 1 / stretch, origin=(0, 0))
    centres = centres.simplify(0.0005).segmentize(0.25)
    x0, y0, x1, y1 = centres.bounds
    heights = np.arange(y0 + SPACING / 2, y1, SPACING)
    rows = [LineString([(x0 - 1, y), (x1 + 1, y)]) for y in heights]
    lines = shapely.get_parts(shapely.intersection(rows, centres))
    steps = []
    for number, line in enumerate(lines[shapely.get_type_id(lines) == 1]):
        (ax, ay), (bx, by) = sorted(line.coords, reverse=bool(number % 2))
        steps += [(ax, ay, 0.0, True), (bx, by, 0.3, False)]
    n_rows = len(steps) // 2
    for ring in shapely.get_rings(shapely.get_parts(centres)):
        first, *rest = ring.coords
        steps += [(*first, 0.0, True), *((x, y, 0.3, False) for x, y in rest)]
    x, y, power, rapid = (np.array(column) for column in zip(*steps, strict=True))
    speed = np.where(rapid, 100.0, 20.0)
    found = Moves(x_mm=x, y_mm=y, rapid=rapid, speed_mm_s=speed, power=power)
    return found, n_rows, int((power > 0).sum()) - n_rows


def timed(label, function):
    wall, cpu = [], []
    for _ in range(5):
        begin, work = time.perf_counter(), time.process_time()
        result = function()
        wall.append(time.perf_counter() - begin)
        cpu.append(time.process_time() - work)
    median = statistics.median
    print(f"{label:10} {median(wall):6.3f} s, least {min(wall):6.3f}; cpu {median(cpu):6.3f} s")
    return result


def main():
    device = Machine(
        spot_mm=(0.17, 0.12),
        spot_means="1/e2",
        wavelength_nm=450.0,
        power_w=5.5,
        top_speed_mm_s=100.0,
        acceleration_mm_s2=800.0,
        step_mm=0.0125,
        bed_mm=(400.0, 400.0),
        cornering_mm=0.01,
        power_word=1000.0,
        beam_on="M3",
        power_follows_speed=True,
    )
    target = plate()
    moves, n_rows, n_chords = program(target)
    print(f"{n_rows} rows, {n_chords} chords, {len(moves)} moves")
    text = timed("write", lambda: write_program(moves, machine=device, title=["bench"]))
    read = timed("read", lambda: read_program(text, machine=device))
    timed("prove", lambda: prove(read, machine=device, blank_at_mm=(30.0, 30.0)))
    opening = timed("sweep", lambda: sweep(read, MARK))
    finished = timed("advance", lambda: advance(opening, UNDERCUT))
    outcome = timed(
        "judge",
        lambda: judge(
            target=target,
            finished=finished,
            reach_mm=UNDERCUT + MARK[0] / 2,
            edge_tolerance_mm=0.05,
        ),
    )
    print(f"worst outside {outcome.worst_outside_mm:.4f}, inside {outcome.worst_inside_mm:.4f} mm")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
