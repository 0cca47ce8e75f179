"""The plain way to choose between lines and rings: lay both for every part, and time both."""

from __future__ import annotations

from stopout.clearing.filling.edges import order_outlines

WORTH = 0.95


def with_rings(parts, work):
    """As `stopout.clearing.choice.with_rings`, by planning the motion of everything."""
    parts = list(parts)
    ringed = {along: [False] * len(parts) for along in ("x", "y")}
    for k, part in enumerate(parts):
        if not part.fills:
            continue
        (parts[k],) = work.ringed([part])
        if not parts[k].spirals:
            continue
        rings = order_outlines(parts[k].spirals, start_mm=(0.0, 0.0))
        rings_s = _time_s(work.finished(rings), work)
        for along, choice in ringed.items():
            rows, _ = work.sequence([part], [False], [], along, start_mm=(0.0, 0.0))
            choice[k] = rings_s < WORTH * _time_s(rows, work)
    return parts, ringed


def _time_s(strokes, work):
    return sum(map(sum, work.stroke_times_s(strokes)))
