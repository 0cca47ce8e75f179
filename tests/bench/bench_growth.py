"""How the time of mask, outcome and widths grows with the drawing, over 1 to 100 times the work.

    python tests/bench/bench_growth.py [most copies, 100 unless given]

Processor seconds of lettering laid again and again on a bed, and of many small shapes. The exponent
is that of the time over the number of copies, between the first row and the last: 1 where twice the
drawing takes twice as long.
"""

from __future__ import annotations

import math
import sys
import time
from itertools import pairwise

import shapely
from lettering_regions import lettering
from shapely import affinity
from shapely.geometry import MultiPolygon, box

from stopout.mask import as_multipolygon
from stopout.planning.memory import Memory
from stopout.planning.opening.look import foreseen, seen_together
from stopout.planning.opening.masks import Making, masks_of, patched, planned_together

HOW = Making(
    undercut_mm=0.06,
    growth_mm=0.0,
    mark_mm=(0.1, 0.1),
    needed_land_mm=0.2,
    narrowest_land_mm=0.15,
    edge_tolerance_mm=0.05,
    too_thin="widen",
    step_mm=0.0125,
    field_mm=None,
    is_light=False,
)
STAGES = ("patches", "mask", "outcome", "narrowest")


def tiled(unit: MultiPolygon, count: int, gap_mm: float) -> tuple[MultiPolygon, shapely.Polygon]:
    """Lay copies of a drawing in rows, a gap apart, on a face."""
    x0, y0, x1, y1 = unit.bounds
    wide, high = x1 - x0 + gap_mm, y1 - y0 + gap_mm
    columns = math.ceil(math.sqrt(count * high / wide))
    laid = [
        affinity.translate(unit, 2 - x0 + wide * (k % columns), 2 - y0 + high * (k // columns))
        for k in range(count)
    ]
    rows = math.ceil(count / columns)
    return as_multipolygon(laid), box(0, 0, wide * columns + 1, high * rows + 1)


def spent(target: MultiPolygon, face: shapely.Polygon) -> list[float]:
    """Return the processor seconds of each stage, on all threads."""
    nothing, times = Memory(0), [time.process_time()]
    patches = patched(target, face, HOW)
    times.append(time.process_time())
    planned = masks_of(patches, HOW, nothing)
    planned_together(planned, patches)
    times.append(time.process_time())
    looks, _ = foreseen(patches, planned, HOW, nothing)
    times.append(time.process_time())
    seen_together(looks, patches, face, HOW, nothing)
    times.append(time.process_time())
    return [after - before for before, after in pairwise(times)]


def table(name: str, unit: MultiPolygon, counts: list[int], gap_mm: float = 3.0) -> None:
    """Print the times of a drawing laid so many times, and their exponents."""
    first: list[float] = []
    for count in counts:
        target, face = tiled(unit, count, gap_mm)
        took = spent(target, face)
        first = first or took
        vertices = shapely.get_num_coordinates(target)
        words = "  ".join(f"{stage} {one:.2f} s" for stage, one in zip(STAGES, took, strict=True))
        print(f"{name} x {count}: {len(target.geoms)} parts, {vertices} vertices: {words}")
    if len(counts) < 2:
        return
    grown = [
        math.log(last / one) / math.log(counts[-1] / counts[0])
        for one, last in zip(first, took, strict=True)
    ]
    words = "  ".join(f"{stage} {one:.2f}" for stage, one in zip(STAGES, grown, strict=True))
    print(f"  exponents: {words}", flush=True)


def main() -> None:
    """Print the tables."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    counts = [n for n in (1, 10, 100) if n <= most]
    words = as_multipolygon(lettering("Raise GATE 25, keep pawl", capital_mm=4.0))
    table("lettering", words, counts)
    table("lettering laid close", words, [n for n in counts if n < 100], gap_mm=0.4)
    shapes = [box(0, 0, 0.8, 0.5), box(2, 0, 2.12, 1.0), shapely.Point(5, 0.5).buffer(0.4)]
    table("small shapes", as_multipolygon(shapes), [10 * n for n in counts])


if __name__ == "__main__":
    main()
