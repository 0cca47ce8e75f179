"""GHS pictograms and ISO 7010 style safety signs as SVG, drawn by us from their descriptions.

Colours only help: each sign's shape, code and words carry the meaning, so that a grey copy reads
as well. Shapes: UN GHS annex 1 (a square on its point); ISO 3864-1 (ring with bar: must not; disc:
must; triangle: warning; square: safe condition or fire equipment); from memory.
"""

from __future__ import annotations

from functools import cache

from stopout.sheet.drawings.symbols import INK, PAPER, SYMBOLS

# Height = distance / 40 (the factor from memory): 15 mm is read from 0.6 m, over a bench. The
# square on its point is 16 mm from point to point: a side of 11 mm, above the 10 mm that a label
# must have at least (Regulation (EC) 1272/2008, annex I, 1.2.1).
SIZE_MM = {"pictogram": 16.0, "sign": 15.0}
# RAL 3001, 1003, 5005 and 6032 as ISO 3864-4 lists them; the GHS frame darker, to print heavy.
_RED, _YELLOW, _BLUE, _GREEN = "#9b2423", "#f9a800", "#005387", "#237f52"
_FRAME = "#a8100f"
_BLACK, _WHITE = "#000000", "#ffffff"


def sign_codes() -> tuple[str, ...]:
    """Codes of all signs that can be drawn."""
    return tuple(SYMBOLS)


def is_pictogram(code: str) -> bool:
    """Tell a GHS pictogram from a safety sign."""
    return code.startswith("GHS")


@cache
def sign_svg(code: str) -> str:
    """Draw a sign.

    Parameters
    ----------
    code : str
        A GHS or ISO 7010 code, such as `GHS05` or `M004`.

    Returns
    -------
    str
        SVG on a field of 100 by 100; paths, circles and groups only.

    Raises
    ------
    KeyError
        If the sign is not among `sign_codes()`.
    """
    symbol = SYMBOLS[code]
    kind = "GHS" if is_pictogram(code) else code[0]
    ground, ink, paper, x, y, scale = _GROUNDS[kind]
    y, scale = _FITTED.get(code, (y, scale))
    drawn = symbol.replace(INK, ink).replace(PAPER, paper)
    placed = f'<g transform="translate({x} {y}) scale({scale}) translate(-50 -50)">{drawn}</g>'
    # The bar of a prohibition lies over what it prohibits.
    over = _BAR if kind == "P" else ""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" width="100" height="100">'
        f"{ground}{placed}{over}</svg>"
    )


# Wide symbols stand lower in a triangle, slender ones may be larger.
_FITTED = {
    "GHS02": (48.0, 0.6),
    "GHS03": (48.0, 0.58),
    "GHS07": (50.0, 0.62),
    "GHS08": (50.0, 0.56),
    "W001": (59.0, 0.52),
    "W021": (60.0, 0.5),
    "W023": (64.0, 0.44),
    "W028": (59.0, 0.5),
}
_BAR = f'<path d="M22 22L78 78" stroke="{_RED}" stroke-width="8.5"/>'
_SQUARE = '<rect x="2" y="2" width="96" height="96" rx="3" fill="{}"/>'
# Ground, colour of the symbol, colour of what is left out of it, the symbol's middle and scale.
_GROUNDS: dict[str, tuple[str, str, str, float, float, float]] = {
    "GHS": (
        f'<path d="M50 5L95 50L50 95L5 50Z" fill="{_WHITE}" stroke="{_FRAME}" '
        'stroke-width="6.5" stroke-linejoin="miter"/>',
        _BLACK,
        _WHITE,
        50,
        50,
        0.54,
    ),
    "W": (
        f'<path d="M50 9L95 87H5Z" fill="{_YELLOW}" stroke="{_YELLOW}" stroke-width="9" '
        f'stroke-linejoin="round"/><path d="M50 12L92 85H8Z" fill="{_YELLOW}" '
        f'stroke="{_BLACK}" stroke-width="6" stroke-linejoin="round"/>',
        _BLACK,
        _YELLOW,
        50,
        60,
        0.43,
    ),
    "M": (f'<circle cx="50" cy="50" r="48" fill="{_BLUE}"/>', _WHITE, _BLUE, 50, 50, 0.68),
    "P": (
        f'<circle cx="50" cy="50" r="43" fill="{_WHITE}" stroke="{_RED}" stroke-width="10"/>',
        _BLACK,
        _WHITE,
        50,
        50,
        0.66,
    ),
    "E": (_SQUARE.format(_GREEN), _WHITE, _GREEN, 50, 50, 0.84),
    "F": (_SQUARE.format(_RED), _WHITE, _RED, 50, 50, 0.84),
}
