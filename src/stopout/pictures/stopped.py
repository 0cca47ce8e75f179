"""Where a program stopped: what is cleared, what is left, and the head's place."""

from __future__ import annotations

from html import escape

import numpy as np

from stopout.pictures.means.fonts import FAMILY
from stopout.pictures.means.render import drawn_png
from stopout.values import Moves

_WIDTH, _EDGE, _TOP = 1400.0, 60.0, 130.0
_DONE, _LEFT, _INK, _HERE = "#b8b8b8", "#1d3f66", "#222222", "#b3261e"
_FONT = f"font-family='{FAMILY}'"


def stopped_png(
    moves: Moves,
    *,
    first: int,
    at_mm: tuple[float, float],
    size_mm: tuple[float, float],
    title: str,
) -> bytes:
    """Draw a stopped program as worked.

    Parameters
    ----------
    moves : Moves
        The whole program.
    first : int
        The move from which it is carried on.
    at_mm : (x, y)
        Where the head stopped.
    size_mm : (width, height)
        Of the blank.
    title : str
        Headline.
    """
    scale = (_WIDTH - 2 * _EDGE) / size_mm[0]
    height = _TOP + size_mm[1] * scale + 110

    def px(place: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> str:
        x, y = _EDGE + place[0] * scale, _TOP + (size_mm[1] - place[1]) * scale
        return f"{x:.1f} {y:.1f}"

    index, on = np.arange(len(moves)), moves.power > 0
    parts = []
    for kept, colour, width in (
        (on & (index < first), _DONE, 1.5),
        (on & (index >= first), _LEFT, 2.0),
    ):
        pairs = zip(moves.start_mm[kept], moves.end_mm[kept], strict=True)
        path = "".join(f"M{px(a)}L{px(b)}" for a, b in pairs)
        parts.append(f"<path d='{path}' stroke='{colour}' stroke-width='{width}' fill='none'/>")
    x, y = (float(part) for part in px(np.asarray(at_mm)).split())
    begin = px(moves.start_mm[first])
    parts.append(
        f"<path d='M{x - 34:.1f} {y:.1f}h68M{x:.1f} {y - 34:.1f}v68' stroke='{_HERE}' "
        f"stroke-width='3'/><circle cx='{x:.1f}' cy='{y:.1f}' r='22' fill='none' "
        f"stroke='{_HERE}' stroke-width='3'/>"
        f"<path d='M{begin}l-10 18h20z' fill='{_INK}'/>"
    )
    frame = (
        f"<rect x='{_EDGE}' y='{_TOP}' width='{size_mm[0] * scale:.1f}' "
        f"height='{size_mm[1] * scale:.1f}' fill='none' stroke='{_INK}' stroke-width='2'/>"
    )
    words = (
        f"<text x='{_EDGE}' y='60' {_FONT} font-size='34' font-weight='600'>{escape(title)}</text>"
        f"<text x='{_EDGE}' y='104' {_FONT} font-size='24'>as worked: the ring is where the head "
        f"stopped, the triangle where the program takes up again</text>"
        f"<path d='M{_EDGE} {height - 50:.1f}h60' stroke='{_DONE}' stroke-width='6'/>"
        f"<text x='{_EDGE + 76}' y='{height - 42:.1f}' {_FONT} font-size='24'>cleared (light)"
        "</text>"
        f"<path d='M{_EDGE + 340} {height - 50:.1f}h60' stroke='{_LEFT}' stroke-width='6'/>"
        f"<text x='{_EDGE + 416}' y='{height - 42:.1f}' {_FONT} font-size='24'>left to clear "
        "(dark)</text>"
    )
    svg = (
        f"<svg xmlns='http://www.w3.org/2000/svg' width='{_WIDTH:.0f}' height='{height:.0f}'>"
        f"<rect width='100%' height='100%' fill='#ffffff'/>{''.join(parts)}{frame}{words}</svg>"
    )
    return drawn_png(svg)
