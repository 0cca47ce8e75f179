"""Tints by their names, and how far apart two of them look.

For the eye on a screen and for finding mistakes only: no paint is matched by them.
"""

from __future__ import annotations

import math
import re
from difflib import get_close_matches
from functools import cache

import numpy as np

from stopout.planning.signs.ral import RAL
from stopout.values import FloatArray

_HEX = re.compile(r"#[0-9a-f]{6}")
_SHORT = re.compile(r"#[0-9a-f]{3}")
_RAL = re.compile(r"ral[ -]?([0-9]{4})")
_WHITE_D65 = np.array([0.95047, 1.0, 1.08883])
# IEC 61966-2-1: linear sRGB to XYZ.
_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def tint_of(colour: str) -> str | None:
    """Return the tint `#rrggbb` that a colour's name stands for; None where nobody says.

    Parameters
    ----------
    colour : str
        `#rrggbb`, `#rgb`, a name of CSS Color Module Level 4 (spaces and capitals do not count),
        or a RAL number whose published approximation is in the table. Words before a CSS name are
        passed over: "signal red" is red.
    """
    plain = " ".join(colour.lower().replace("gray", "grey").replace("-", " ").split())
    if (exact := plain_tint(plain)) is not None:
        return exact
    if found := _RAL.search(plain):
        return RAL.get(found.group(1))
    names, words = _css(), plain.split()
    for k in range(len(words)):
        if (tint := names.get("".join(words[k:]))) is not None:
            return tint
    return None


def plain_tint(colour: str) -> str | None:
    """Return `#rrggbb` for `#rrggbb`, `#rgb` or a CSS name; None for anything else."""
    plain = colour.lower().replace("gray", "grey")
    if _HEX.fullmatch(plain):
        return plain
    if _SHORT.fullmatch(plain):
        return "#" + "".join(2 * digit for digit in plain[1:])
    return _css().get(plain)


def like_word(colour: str) -> str:
    """Return `, such as ivory` where a colour's last word is spelt much like a CSS name."""
    last = (colour.lower().split() or [""])[-1][:60]
    near = get_close_matches(last, _css(), n=1, cutoff=0.8)
    return f", such as {near[0]}" if near else ""


@cache
def _css() -> dict[str, str]:
    """The named colours of CSS Color Module Level 4, section 6.1, as Pillow tabulates them."""
    from PIL import ImageColor

    # Whoever has drawn by a name has left numbers in the table in place of the text.
    return {
        name.replace("gray", "grey"): value.lower()
        if isinstance(value, str)
        else "#{:02x}{:02x}{:02x}".format(*value[:3])
        for name, value in ImageColor.colormap.items()
    }


def nearest_name(tint: str) -> str:
    """Return the plain colour word that looks nearest to a tint `#rrggbb`."""
    names = _css()
    return _WORDS[min(_WORDS, key=lambda name: difference(tint, names[name]))]


# Plain words for the CSS names that stand for them here (our own choice).
_WORDS = {
    "black": "black",
    "white": "white",
    "grey": "grey",
    "silver": "light grey",
    "dimgrey": "dark grey",
    "red": "red",
    "crimson": "red",
    "firebrick": "red",
    "darkred": "dark red",
    "orange": "orange",
    "darkorange": "orange",
    "gold": "gold",
    "goldenrod": "gold",
    "yellow": "yellow",
    "khaki": "light yellow",
    "olive": "olive",
    "green": "green",
    "seagreen": "green",
    "darkgreen": "dark green",
    "lightgreen": "light green",
    "teal": "teal",
    "skyblue": "light blue",
    "blue": "blue",
    "mediumblue": "blue",
    "royalblue": "blue",
    "steelblue": "blue",
    "darkslateblue": "blue",
    "navy": "navy",
    "purple": "purple",
    "magenta": "magenta",
    "pink": "pink",
    "saddlebrown": "brown",
    "sienna": "brown",
    "beige": "beige",
    "ivory": "ivory",
}


def luminance(tint: str) -> float:
    """Return the relative luminance of sRGB, 0 to 1 (WCAG 2.1, relative luminance)."""
    return float(_linear(tint) @ np.array([0.2126, 0.7152, 0.0722]))


def _linear(tint: str) -> FloatArray:
    rgb = np.array([int(tint[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
    linear: FloatArray = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return linear


@cache
def lab(tint: str) -> tuple[float, float, float]:
    """Return CIELAB of an sRGB tint `#rrggbb` under D65 (ISO/CIE 11664-4)."""
    ratio = _TO_XYZ @ _linear(tint) / _WHITE_D65
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    x, y, z = (float(value) for value in f)
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def difference(one: str, other: str) -> float:
    """Return the colour difference CIEDE2000 of two tints `#rrggbb`.

    References
    ----------
    ISO/CIE 11664-6; G. Sharma, W. Wu and E. N. Dalal, Color Research and Application 30 (2005) 21.
    """
    return _ciede2000(lab(one), lab(other))


def _ciede2000(one: tuple[float, float, float], other: tuple[float, float, float]) -> float:
    (l1, a1, b1), (l2, a2, b2) = one, other
    mean_c = (math.hypot(a1, b1) + math.hypot(a2, b2)) / 2
    g = 0.5 * (1 - math.sqrt(mean_c**7 / (mean_c**7 + 25.0**7)))
    c1, h1 = _polar((1 + g) * a1, b1)
    c2, h2 = _polar((1 + g) * a2, b2)
    turn = 0.0 if c1 * c2 == 0 else (h2 - h1 + 180) % 360 - 180
    middle = h1 + h2 if c1 * c2 == 0 else _middle(h1, h2)
    dl, dc = l2 - l1, c2 - c1
    dh = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn / 2))
    ml, mc = (l1 + l2) / 2, (c1 + c2) / 2
    t = (
        1
        - 0.17 * _cos(middle - 30)
        + 0.24 * _cos(2 * middle)
        + 0.32 * _cos(3 * middle + 6)
        - 0.20 * _cos(4 * middle - 63)
    )
    sl = 1 + 0.015 * (ml - 50) ** 2 / math.sqrt(20 + (ml - 50) ** 2)
    sc, sh = 1 + 0.045 * mc, 1 + 0.015 * mc * t
    rc = 2 * math.sqrt(mc**7 / (mc**7 + 25.0**7))
    rt = -rc * math.sin(math.radians(60 * math.exp(-(((middle - 275) / 25) ** 2))))
    parts = (dl / sl) ** 2 + (dc / sc) ** 2 + (dh / sh) ** 2 + rt * (dc / sc) * (dh / sh)
    return math.sqrt(max(0.0, parts))


def _polar(a: float, b: float) -> tuple[float, float]:
    return math.hypot(a, b), math.degrees(math.atan2(b, a)) % 360


def _middle(h1: float, h2: float) -> float:
    if abs(h1 - h2) <= 180:
        return (h1 + h2) / 2
    return (h1 + h2 + 360) / 2 if h1 + h2 < 360 else (h1 + h2 - 360) / 2


def _cos(degrees: float) -> float:
    return math.cos(math.radians(degrees))
