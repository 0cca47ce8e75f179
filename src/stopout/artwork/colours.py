"""The values of paints: everything that CSS Color 4 can say, in the few words all readers know.

A value that cannot be worked out is never given to a reader, who would make it black: the caller
refuses it by name.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from numpy.typing import NDArray

# CSS Color 4, section 6.2 and appendix A: what these look like is the reader's own affair.
_SYSTEM = frozenset(
    ("accentcolor", "accentcolortext", "activetext", "buttonborder", "buttonface", "buttontext",
     "canvas", "canvastext", "field", "fieldtext", "graytext", "highlight", "highlighttext",
     "linktext", "mark", "marktext", "selecteditem", "selecteditemtext", "visitedtext",
     "activeborder", "activecaption", "appworkspace", "background", "captiontext", "inactiveborder",
     "infobackground", "infotext", "menu", "menutext", "scrollbar", "threedface", "window",
     "windowframe", "windowtext")
)  # fmt: skip
_URL = re.compile(r"url\(\s*(?:\"([^\"]*)\"|'([^']*)'|([^'\"()\s]*))\s*\)\s*(.*)$", re.DOTALL)
_ICC = re.compile(r"\s*icc-color\([^()]*\)\s*$", re.IGNORECASE)
# Chromaticities of the primaries: IEC 61966-2-1 (sRGB) and CSS Color 4, section 10.4 (Display P3);
# of the white D65 they share; and Bradford's cone responses (CSS Color 4, section 15.2), by which
# colours seen under D50 are carried over.
_SRGB = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))
_P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
_D65, _D50 = (0.3127, 0.3290), (0.3457, 0.3585)
_BRADFORD = ((0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296))
_DEEPEST = 8


class UnreadPaintError(ValueError):
    """A paint that cannot be worked out; the message is a clause that says why."""


def plain_paint(text: str) -> str:
    """Write a paint of `fill` or `stroke` plainly.

    Returns
    -------
    str
        ``none``, ``inherit``, ``currentColor``, ``#rrggbb``, ``rgba(r,g,b,a)``, or ``url(#id)``
        with one of these behind it where a fallback is given (SVG 2, section 13.2).

    Raises
    ------
    UnreadPaintError
        If the value cannot be worked out.
    """
    text = text.strip()
    word = text.lower()
    if word in ("none", "inherit"):
        return word
    if word in ("context-fill", "context-stroke"):
        raise UnreadPaintError(f"'{word}' takes its colour from elsewhere; write the colour itself")
    if word.startswith("url("):
        match = _URL.match(text)
        if match is None:
            raise UnreadPaintError(f"'{text[:60]}' is no reference that is read")
        target = next(part for part in match.groups()[:3] if part is not None).strip()
        rest = match[4].strip()
        return f"url({target})" + (f" {plain_paint(rest)}" if rest else "")
    return plain_colour(text)


def plain_colour(text: str, *, depth: int = 0) -> str:
    """Write a colour as ``inherit``, ``currentColor``, ``#rrggbb`` or ``rgba(r,g,b,a)``.

    Raises
    ------
    UnreadPaintError
        If the value is no colour, or one that depends on the reader.
    """
    text = _ICC.sub("", text.strip())
    if text.lower().startswith("light-dark(") and depth < _DEEPEST:
        return plain_colour(_first_of(text), depth=depth + 1)
    word = text.lower()
    if word == "inherit":
        return word
    if word == "currentcolor":
        return "currentColor"
    if word in _SYSTEM:
        raise UnreadPaintError(
            f"the colour '{text}' depends on the reader's desk top; write the colour itself"
        )
    try:
        colour = _colour(text, depth)
        srgb = _encoded(_linear(colour, text))
        return _spelt(srgb, colour.alpha)
    except (OverflowError, ArithmeticError, ValueError) as fault:
        if isinstance(fault, UnreadPaintError):
            raise
        # Parts so large that no arithmetic holds them.
        raise UnreadPaintError(
            f"'{text[:60]}' is no colour that is read; write it as #rrggbb"
        ) from None


def _first_of(text: str) -> str:
    """The colour of a pair that a light page takes (CSS Color 5, section 10)."""
    import tinycss2

    pair = tinycss2.parse_one_component_value(text)
    return str(tinycss2.serialize(_by_commas(pair.arguments)[0])) if pair.type == "function" else ""


def _spelt(srgb: NDArray[np.float64], alpha: float) -> str:
    red, green, blue = (round(255 * float(part) + 1e-6) for part in np.clip(srgb, 0.0, 1.0))
    if alpha == 1.0:
        return f"#{red:02x}{green:02x}{blue:02x}"
    return f"rgba({red},{green},{blue},{alpha!r})"


def _colour(text: str, depth: int) -> Any:
    from tinycss2.color4 import parse_color

    if text.lower().startswith("color-mix(") and depth < _DEEPEST:
        return _mixed(text, depth)
    colour = parse_color(text)
    if colour is None or isinstance(colour, str):
        raise UnreadPaintError(f"'{text[:60]}' is no colour that is read; write it as #rrggbb")
    return colour


def _linear(colour: Any, text: str) -> NDArray[np.float64]:
    """Return the linear sRGB of a colour, unclipped."""
    plain = {"hsl": "srgb", "hwb": "srgb", "lab": "xyz-d50", "lch": "xyz-d50",
             "oklab": "xyz-d65", "oklch": "xyz-d65"}.get(colour.space, colour.space)  # fmt: skip
    values = np.array([part or 0.0 for part in colour.to(plain).coordinates])
    to_srgb = np.linalg.inv(_to_xyz(_SRGB))
    if plain == "srgb":
        return _decoded(values)
    if plain == "srgb-linear":
        return values
    if plain == "display-p3":
        return np.asarray(to_srgb @ _to_xyz(_P3) @ _decoded(values))
    if plain == "xyz-d65":
        return np.asarray(to_srgb @ values)
    if plain == "xyz-d50":
        cones = np.array(_BRADFORD)
        gain = np.diag((cones @ _white(_D65)) / (cones @ _white(_D50)))
        return np.asarray(to_srgb @ np.linalg.inv(cones) @ gain @ cones @ values)
    raise UnreadPaintError(f"the colour '{text[:60]}' is not read; write it as #rrggbb")


def _white(xy: tuple[float, float]) -> NDArray[np.float64]:
    return np.array([xy[0] / xy[1], 1.0, (1.0 - xy[0] - xy[1]) / xy[1]])


def _to_xyz(primaries: tuple[tuple[float, float], ...]) -> NDArray[np.float64]:
    columns = np.array([_white(xy) for xy in primaries]).T
    return np.asarray(columns * np.linalg.solve(columns, _white(_D65)))


def _decoded(srgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """The transfer function of IEC 61966-2-1, odd about zero."""
    size = np.abs(srgb)
    curve = np.where(size <= 0.04045, size / 12.92, ((size + 0.055) / 1.055) ** 2.4)
    return np.asarray(np.sign(srgb) * curve)


def _encoded(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    size = np.abs(linear)
    curve = np.where(size <= 0.0031308, 12.92 * size, 1.055 * size ** (1 / 2.4) - 0.055)
    return np.asarray(np.sign(linear) * curve)


def _mixed(text: str, depth: int) -> Any:
    """Mix two colours in sRGB, with gamma or linear (CSS Color 5, section 2.1)."""
    import tinycss2
    from tinycss2.color4 import Color

    unread = UnreadPaintError(f"the mixture '{text[:60]}' is not read; write the colour itself")
    function = tinycss2.parse_one_component_value(text)
    if function.type != "function":
        raise unread
    parts = [tinycss2.serialize(part).strip() for part in _by_commas(function.arguments)]
    space = parts[0].lower().removeprefix("in").strip()
    if len(parts) != 3 or space not in ("srgb", "srgb-linear"):
        raise unread
    shares: list[float | None] = []
    values: list[NDArray[np.float64]] = []
    alphas: list[float] = []
    for part in parts[1:]:
        match = re.match(r"(?:(?P<a>[\d.]+)%\s+)?(?P<colour>.*?)(?:\s+(?P<b>[\d.]+)%)?$", part)
        if match is None:
            raise unread
        share = match["a"] or match["b"]
        shares.append(None if share is None else float(share) / 100)
        colour = _colour(match["colour"], depth + 1)
        linear = _linear(colour, match["colour"])
        values.append(linear if space == "srgb-linear" else _encoded(linear))
        alphas.append(colour.alpha)
    first, second = _shared(shares[0], shares[1])
    if first + second <= 0.0:
        raise unread
    faded = min(1.0, first + second)
    weights = np.array([first, second]) / (first + second) * alphas
    alpha = float(weights.sum())
    mixed = (weights[0] * values[0] + weights[1] * values[1]) / (alpha or 1.0)
    return Color(space, mixed.tolist(), alpha * faded)


def _shared(first: float | None, second: float | None) -> tuple[float, float]:
    if first is None:
        first = 0.5 if second is None else 1.0 - second
    return first, 1.0 - first if second is None else second


def _by_commas(tokens: list[Any]) -> list[list[Any]]:
    parts: list[list[Any]] = [[]]
    for token in tokens:
        if token.type == "literal" and token.value == ",":
            parts.append([])
        else:
            parts[-1].append(token)
    return parts
