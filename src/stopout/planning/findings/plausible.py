"""What no shop would carry out: runs of days, tolerances as wide as strokes, coarse pictures."""

from __future__ import annotations

import math
from collections.abc import Sequence

from stopout.etching import EtchPlan
from stopout.job.record import Job, Limits
from stopout.planning.plan import CoatPlan
from stopout.units import format_duration
from stopout.values import Drawing, Finding, Level
from stopout.wording import width_words

# A laser is attended as long as it runs, and so is a bath (common practice, no source): what is
# longer than a shift asks for a second person, what is longer than a day is a slip of a unit.
_SHIFT_S, _DAY_S = 8 * 3600.0, 24 * 3600.0
# The width that a twentieth of the strokes' length lies under.
_NARROW_SHARE = 0.05
# Finer lines than this are drawn for a knife or as a shape's edge, not to be seen. Our own rule.
_HAIRLINE_MM = 0.05
# Of a picture no edge need be known better than this, however small the tolerance. Our own rule.
_FINE_MM = 0.03
_MM_PER_INCH = 25.4
# What a picture of lines is drawn or scanned at (common practice, no source).
_USUAL_DPI = 300


def plausible_findings(job: Job, coats: Sequence[CoatPlan], etch: EtchPlan | None) -> list[Finding]:
    """Find what the plan asks for that nobody would do."""
    found: list[Finding] = []
    for coat in coats:
        if coat.clearing is not None:
            found += _long(
                coat.clearing.times.time_s,
                "clearing-long",
                f"clearing coat {coat.number} of one piece",
                "A wider spacing, a higher speed or fewer passes shorten it; check the units of "
                "spot, mark, spacing and speed.",
            )
        found += [*_wide(coat, job.limits), *_hairlines(coat)]
    if etch is not None:
        found += _long(
            etch.time_s,
            "etch-long",
            "the etch",
            "Etch less deep, or in a warmer or another bath; check the units of depth and rate.",
        )
    return found


def _long(time_s: float, code: str, what: str, remedy: str) -> list[Finding]:
    if time_s <= _SHIFT_S:
        return []
    level = Level.STOP if time_s > _DAY_S else Level.CAUTION
    days = time_s / _DAY_S
    takes = f"{days:.0f} days" if days >= 2 else format_duration(time_s)
    why = "longer than anyone attends it" if level is Level.STOP else "more than one shift"
    return [Finding(code=code, level=level, message=f"{what} takes {takes}, {why}", remedy=remedy)]


def _wide(coat: CoatPlan, limits: Limits) -> list[Finding]:
    """Hold a tolerance that is wider than the usual one against the strokes as drawn."""
    widths = coat.widths[0].quantiles((_NARROW_SHARE,))
    tolerance = limits.edge_tolerance_mm
    if not widths or tolerance <= Limits().edge_tolerance_mm or 2 * tolerance < widths[0]:
        return []
    return [
        Finding.caution(
            "tolerance-wide",
            f"the edge tolerance of {tolerance:g} mm is half or more of the narrowest strokes "
            f"drawn, {widths[0]:.2f} mm wide: one that is not made at all would pass",
            f'Give edge_tolerance = "{max(0.01, widths[0] / 4):.2f} mm" or less.',
        )
    ]


def _hairlines(coat: CoatPlan) -> list[Finding]:
    """Tell a drawing of outlines alone, whose shapes were perhaps meant to be filled."""
    # Of lines, area over half the boundary is their width.
    if 2 * coat.target.area >= min(_HAIRLINE_MM, coat.reach_mm) * coat.target.length:
        return []
    return [
        Finding.caution(
            "hairlines",
            f"all that is drawn are lines under {_HAIRLINE_MM:g} mm wide, as the outlines of "
            f"shapes to be cut out; they are made about {width_words(2 * coat.reach_mm)} wide, and "
            "what they enclose is not",
            "Fill the shapes that are meant to be solid, or give the lines their width.",
        )
    ]


def coarse_findings(job: Job, drawing: Drawing) -> list[Finding]:
    """Hold what the pixels of a picture know of its edges against what an edge may stray."""
    tolerance, known = job.limits.edge_tolerance_mm, drawing.edge_known_mm
    if known <= max(tolerance, _FINE_MM):
        return []
    enough = max(tolerance, _FINE_MM) / known
    dpi = max(_USUAL_DPI, math.ceil(_MM_PER_INCH / drawing.pixel_mm / enough / 10) * 10)
    what = f"the pixels of {drawing.file} are {width_words(drawing.pixel_mm)} wide on the piece"
    remedy = f"Give outlines (SVG, PDF), or a picture drawn or scanned at {dpi} dpi or more."
    if known > drawing.pixel_mm:
        what = f"the edges of {drawing.file} are soft, as in a picture enlarged or out of focus"
        remedy = "Give outlines (SVG, PDF), or a sharp picture of that size."
    return [
        Finding.caution(
            "artwork-coarse",
            f"{what}: corners and edges are known to {width_words(known)} at best, and small "
            "lettering is lost",
            remedy,
        )
    ]
