"""Raised lettering that fingers read: a job's words held against the rule that it names.

2010 ADA Standards for Accessible Design (US Department of Justice, 28 CFR 36 appendix), sections
703.2 and 703.3. Whether the rule applies to a sign, and whether the sign meets it, the authority
on the place says, and a licensed professional where the law asks for one; this is a check of
dimensions.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from stopout.job.record import Job
from stopout.units import format_number
from stopout.values import Drawing, DrawnText, Finding

_SOURCE = "2010 ADA Standards"
# 703.2.1, 703.2.5, 703.2.4, 703.2.6, 703.2.7 and 703.2.8; 703.3.1 and 703.3.2.
_DEPTH_MM = 0.8
_HEIGHT_MM = (16.0, 51.0)
_O_SHARE = (0.55, 1.10)
_STROKE_SHARE = 0.15
_GAP_MM, _GAP_STROKES = 3.2, 4.0
_LINES_SHARE = (1.35, 1.70)
_DOT_MM, _IN_CELL_MM, _CLEAR_MM = (1.5, 1.6), (2.3, 2.5), 9.5
# What is so round and so small is taken for a dot of braille: own rule.
_DOT_LIKE_MM, _ROUND = (0.8, 2.2), 0.97
_SLACK_MM = 0.005


def raised_rule_findings(job: Job, drawing: Drawing) -> list[Finding]:
    """Hold raised words and dots against the rule that the job names.

    Parameters
    ----------
    job : Job
        With `limits.raised_rule`; nothing is said where it is None.
    drawing : Drawing
        With the words that the job sets, as seen.

    Returns
    -------
    list of Finding
        A caution for each dimension that the rule does not allow, with the section that says so.
    """
    if job.limits.raised_rule is None:
        return []
    found = list(_depth(job))
    for text in drawing.texts:
        if text.is_raised:
            found += _text(text)
    found += _dots(drawing)
    return found


def _depth(job: Job) -> Iterator[Finding]:
    depth = job.etch.depth_mm if job.etch is not None else 0.0
    if depth < _DEPTH_MM - _SLACK_MM:
        yield _said(
            "703.2.1",
            f"letters stand {format_number(depth)} mm above the ground; the rule asks for "
            f"{_DEPTH_MM:g} mm",
            "Etch deeper where the metal bears it, or fix letters of sheet instead.",
        )


def _text(text: DrawnText) -> Iterator[Finding]:
    name = f'"{text.words[:28]}"'
    if text.words != text.words.upper():
        yield _at(text, "703.2.2", f"{name} has small letters", "Write it in capitals.")
    low, high = _HEIGHT_MM
    if not low - _SLACK_MM <= text.cap_mm <= high + _SLACK_MM:
        yield _at(
            text,
            "703.2.5",
            f"{name} is {format_number(text.cap_mm)} mm high; the rule asks for {low:g} to "
            f"{high:g} mm",
            f'Write cap_height = "{low:g} mm" or more.',
        )
    if not _O_SHARE[0] <= text.round_mm / text.cap_mm <= _O_SHARE[1]:
        yield _at(
            text,
            "703.2.4",
            f"the O of {name} is {100 * text.round_mm / text.cap_mm:.0f} % of the height wide; the "
            "rule asks for 55 to 110 %",
            "Choose a font of another width.",
        )
    if text.stroke_mm / text.cap_mm > _STROKE_SHARE + 1e-3:
        yield _at(
            text,
            "703.2.6",
            f"the strokes of {name} are {100 * text.stroke_mm / text.cap_mm:.0f} % of the height "
            "thick; the rule allows 15 %",
            "Choose a lighter weight of the font.",
        )
    yield from _spacing(text, name)


def _spacing(text: DrawnText, name: str) -> Iterator[Finding]:
    if text.gaps_mm is not None:
        most = _GAP_STROKES * text.stroke_mm
        least, widest = text.gaps_mm
        if least < _GAP_MM - _SLACK_MM:
            more = format_number(float(np.ceil(100 * (_GAP_MM - least)) / 100))
            yield _at(
                text,
                "703.2.7",
                f"letters of {name} stand {least:.2f} mm apart; the rule asks for {_GAP_MM:g} mm",
                f"Add {more} mm to letter_space.",
            )
        elif widest > most + _SLACK_MM:
            yield _at(
                text,
                "703.2.7",
                f"letters of {name} stand up to {widest:.2f} mm apart; the rule allows four "
                f"strokes, {most:.2f} mm",
                "Lower letter_space.",
            )
    if text.line_mm and not (
        _LINES_SHARE[0] <= text.line_mm / text.cap_mm + 1e-4
        and text.line_mm / text.cap_mm - 1e-4 <= _LINES_SHARE[1]
    ):
        low, high = (format_number(share * text.cap_mm) for share in _LINES_SHARE)
        yield _at(
            text,
            "703.2.8",
            f"lines of {name} are {format_number(text.line_mm)} mm apart; the rule asks for {low} "
            f"to {high} mm",
            f'Write line_space = "{low} mm".',
        )


def _dots(drawing: Drawing) -> Iterator[Finding]:
    """Small round parts of the artwork, as dots of braille."""
    parts = shapely.get_parts(drawing.dark)
    across = 2 * np.sqrt(shapely.area(parts) / np.pi)
    roundness = 4 * np.pi * shapely.area(parts) / np.maximum(shapely.length(parts), 1e-9) ** 2
    are = (across > _DOT_LIKE_MM[0]) & (across < _DOT_LIKE_MM[1]) & (roundness > _ROUND)
    if are.sum() < 3:
        return
    dots, sizes = shapely.get_coordinates(shapely.centroid(parts[are])), across[are]
    at = (float(dots[0][0]), float(dots[0][1]))
    low, high = _DOT_MM
    off = sizes[(sizes < low - _SLACK_MM) | (sizes > high + _SLACK_MM)]
    if len(off):
        yield _said(
            "703.3.1",
            f"dots of braille {off[0]:.2f} mm across; the rule asks for {low:g} to {high:g} mm",
            "Draw them anew.",
            at,
        )
    places = shapely.points(dots)
    (_, _), near = shapely.STRtree(places).query_nearest(
        places, exclusive=True, return_distance=True
    )
    if near.min() < _IN_CELL_MM[0] - _SLACK_MM or near.min() > _IN_CELL_MM[1] + _SLACK_MM:
        yield _said(
            "703.3.1",
            f"dots of braille {near.min():.2f} mm from each other; the rule asks for "
            f"{_IN_CELL_MM[0]:g} to {_IN_CELL_MM[1]:g} mm within a cell",
            "Draw them anew.",
            at,
        )
    rest = shapely.union_all(parts[~are])
    clear = float(shapely.distance(rest, shapely.multipoints(dots))) if not rest.is_empty else 99.0
    if clear - high / 2 < _CLEAR_MM - _SLACK_MM:
        yield _said(
            "703.3.2",
            f"braille {clear - high / 2:.1f} mm from what else stands out; the rule asks for "
            f"{_CLEAR_MM:g} mm",
            "Move it away.",
            at,
        )
    yield _said(
        "703.3.1",
        "dots of braille must be domed, 0.6 to 0.9 mm high; an etch leaves them flat",
        "Set dots of their own into the plate.",
        at,
    )


def _at(text: DrawnText, section: str, what: str, remedy: str) -> Finding:
    x0, y0, x1, y1 = text.box_mm
    return _said(section, what, remedy, ((x0 + x1) / 2, (y0 + y1) / 2))


def _said(
    section: str, what: str, remedy: str, at_mm: tuple[float, float] | None = None
) -> Finding:
    return Finding.caution("raised-rule", f"{what} ({_SOURCE}, {section})", remedy, at_mm=at_mm)
