"""How large letters must be to be read from a distance: the rules, and what a drawing gives.

Lengths are mm. The rules are those of published guides and one law; each function names its own.
A note from here is advice: it certifies no conformity.
"""

from __future__ import annotations

import math

from stopout.job.record import Job
from stopout.planning.measures.lettering import LetteringLine, beside_codes, lettering_lines
from stopout.values import Drawing, Finding, Level

# Minutes of arc that letters take: 11.5 is the limit of sight in good light (25 feet per inch of
# capital, a university's study of outdoor signs), 16 what label tables and control rooms ask for,
# 28.65 easy reading (1 inch for 10 feet, sign makers' rule).
_LIMIT, _GOOD, _EASY = 11.46, 16.0, 28.65

# Table 703.5.5: baseline above the floor up to, height, distance from which it grows [mm].
_ADA_ROWS = ((1780.0, 16.0, 1830.0), (3050.0, 51.0, 4570.0), (math.inf, 75.0, 6400.0))
_ADA_LOWEST_MM = 1015.0
# The table's slope, in mm of height for mm of distance.
_ADA_SLOPE = 3.2 / 305.0
# Where nothing says how high a sign hangs, it is taken to hang at the eye.
_BASELINE_MM = 1500.0
_SHOWN_MM = 0.05
# Strokes told from shapes are no surer than this (our own).
_UNSURE = 0.03


def visual_angle_height_mm(distance_mm: float, arcmin: float) -> float:
    """Return the height that is seen under an angle: h = 2 D tan(angle / 2).

    Parameters
    ----------
    distance_mm : float
        From the eye to the sign.
    arcmin : float
        The angle in minutes of arc; 16 reads well.
    """
    return 2 * distance_mm * math.tan(math.radians(arcmin / 60) / 2)


def ada_height_mm(distance_mm: float, *, baseline_mm: float = _BASELINE_MM) -> float:
    """Return the least height of the capital I for visual characters, in the table's mm column.

    Parameters
    ----------
    distance_mm : float
        Horizontal, to where an obstruction stops whoever comes near.
    baseline_mm : float
        Height of the line's baseline above the floor, 1015 mm or more.

    Raises
    ------
    ValueError
        If the baseline lies lower than the standard has it.

    References
    ----------
    2010 ADA Standards for Accessible Design, 703.5.5 and its table; its inch column differs by up
    to 1.6 %.
    """
    if baseline_mm < _ADA_LOWEST_MM:
        raise ValueError(
            f"a baseline {baseline_mm:g} mm above the floor is lower than the standard's least, "
            f"{_ADA_LOWEST_MM:g} mm"
        )
    height, near = next((h, d) for top, h, d in _ADA_ROWS if baseline_mm <= top)
    return height + max(0.0, distance_mm - near) * _ADA_SLOPE


def ada_stroke_mm(height_mm: float) -> tuple[float, float]:
    """Return the least and largest stroke of the capital I: 10 to 30 % (ADA Standards 703.5.7)."""
    return 0.10 * height_mm, 0.30 * height_mm


def legibility_findings(job: Job, drawing: Drawing) -> list[Finding]:
    """Hold the artwork's own lettering against the distance from which it is read.

    Parameters
    ----------
    job : Job
        With the viewing distance; without one a sign's lettering is told how far it reads.
    drawing : Drawing
        The artwork on the blank.
    """
    distance = job.limits.viewing_distance_mm
    if distance is None and not job.route.is_sign:
        return []
    regions = [shape.region for shape in drawing.shapes] or [drawing.dark]
    lines = lettering_lines(beside_codes(regions, drawing))
    if job.route.is_sign:
        lines = [line for line in lines if line.is_likely]
    if distance is None:
        return [_unasked(lines[0], job)] if lines else []
    if not lines:
        return [
            Finding.note(
                "letters-not-found",
                "no line of lettering could be told from the artwork's shapes, so the viewing "
                f"distance is not judged; letters should be {_good(distance):.1f} mm high or "
                "more (16 minutes of arc)",
            )
        ]
    smallest = lines[0]
    return [_by_angle(smallest, distance, job), *_by_law(smallest, distance, job)]


def _unasked(line: LetteringLine, job: Job) -> Finding:
    """Say how far a sign's smallest lettering reads, where no distance is asked for."""
    good, limit = (
        line.height_mm / visual_angle_height_mm(1.0, angle) / 1000 for angle in (_GOOD, _LIMIT)
    )
    return Finding.note(
        "letters-distance",
        f"the smallest lettering is about {line.height_mm:.1f} mm high: read well from "
        f"{good:.1f} m, and at most from {limit:.1f} m (16 and 11.5 minutes of arc)",
        "Give limits.viewing_distance to have it judged.",
        at_mm=_as_worked(line.at_mm, job),
    )


def _good(distance_mm: float) -> float:
    return visual_angle_height_mm(distance_mm, _GOOD)


def _by_angle(line: LetteringLine, distance: float, job: Job) -> Finding:
    """Say how far the smallest lettering is read, and whether that is far enough."""
    height = line.height_mm
    reads = [height / visual_angle_height_mm(1.0, angle) for angle in (_EASY, _GOOD, _LIMIT)]
    easy, good, limit = (f"{mm / 1000:.1f} m" for mm in reads)
    needed = _good(distance)
    is_small = height < needed - _SHOWN_MM
    return Finding(
        code="letters-distance",
        level=Level.CAUTION if is_small else Level.NOTE,
        message=(
            f"the smallest lettering is about {height:.1f} mm high: easy to read from {easy}, "
            f"well from {good}, and at most from {limit} (28.6, 16 and 11.5 minutes of arc); "
            f"the viewing distance is {distance / 1000:.4g} m"
        ),
        remedy=(
            f"Make it {needed:.1f} mm high or more, which is {needed / height:.2f} times as large."
            if is_small
            else ""
        ),
        at_mm=_as_worked(line.at_mm, job),
    )


def _by_law(line: LetteringLine, distance: float, job: Job) -> list[Finding]:
    """Hold lettering against the 2010 ADA Standards, where the letters are of that order."""
    needed = ada_height_mm(distance)
    low, high = ada_stroke_mm(line.height_mm)
    words = []
    if line.height_mm < needed - _SHOWN_MM:
        words.append(f"{needed:.0f} mm high (it is {line.height_mm:.1f})")
    if not (1 - _UNSURE) * low <= line.stroke_mm <= (1 + _UNSURE) * high:
        share = 100 * line.stroke_mm / line.height_mm
        words.append(f"with strokes of 10 to 30 % of the height (they are about {share:.1f} %)")
    if not words:
        return []
    return [
        Finding.note(
            "letters-public",
            "as a visual character on a public building's sign by the 2010 ADA Standards, "
            f"703.5, baseline at the eye, lettering would have to be {' and '.join(words)}",
            "Only where that rule or one like it holds: ask whoever is responsible for the "
            "building.",
            at_mm=_as_worked(line.at_mm, job),
        )
    ]


def _as_worked(at_mm: tuple[float, float], job: Job) -> tuple[float, float]:
    x, y = at_mm
    return (job.blank.width_mm - x, y) if job.blank.is_back_worked else (x, y)
