"""Tints of materials and paints as the pictures show them. For the eye only: no colour match."""

from __future__ import annotations

from itertools import pairwise

from stopout.planning.signs.tints import tint_of

_MATERIALS = {
    "aluminium": ("#d5d8da", "#565b60"),
    "brass": ("#dcc27a", "#6b5420"),
    "copper": ("#d79b77", "#6e3a1e"),
    "steel": ("#c6cbd0", "#4d545b"),
    "stainless": ("#cdd1d4", "#50565b"),
    "acrylic": ("#eef3f5", "#7d8a90"),
}
_UNKNOWN = "#9aa0a5"
# A lamp seen through a diffuser: half of the paint's own tint, half of this.
_LAMP = "#fff0c4"
# Tints whose luma (of 255) differs by less print alike in grey.
_ALIKE = 60.0
_MIDDLE = 127.5


def material_tint(material: str) -> str:
    """Tint of a bare material by its id (`stainless-304` is shown as `stainless`)."""
    return _of(material)[0]


def recess_tint(material: str) -> str:
    """Tint of an etched recess in it, darkened so that the drawing reads."""
    return _of(material)[1]


def paint_tint(colour: str) -> str:
    """Tint of a paint by its colour's name, RAL number or `#rrggbb`; a middle grey where unknown.

    A name that ends in "diffuser" is tinted as it looks lit from behind.
    """
    plain = colour.removesuffix(" diffuser")
    if plain != colour:
        return _halfway(paint_tint(plain), _LAMP)
    return _MATERIALS["acrylic"][0] if plain == "clear" else tint_of(plain) or _UNKNOWN


def look_alike(*tints: str) -> bool:
    """Tell whether any two tints `#rrggbb` print alike in grey, so that a line must part them."""
    lumas = sorted(_luma(tint) for tint in tints)
    return any(b - a < _ALIKE for a, b in pairwise(lumas))


def _halfway(tint: str, other: str) -> str:
    pairs = [(int(tint[i : i + 2], 16), int(other[i : i + 2], 16)) for i in (1, 3, 5)]
    return "#" + "".join(f"{(a + b) // 2:02x}" for a, b in pairs)


def parting_line(tint: str) -> str:
    """The colour of a line that shows on a tint `#rrggbb`: white on dark, black on light."""
    return "#fff" if _luma(tint) < _MIDDLE else "#000"


def _luma(tint: str) -> float:
    """Luma of `#rrggbb` by the weights of ITU-R BT.709."""
    red, green, blue = (int(tint[i : i + 2], 16) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _of(material: str) -> tuple[str, str]:
    return next(
        (tints for name, tints in _MATERIALS.items() if material.startswith(name)),
        ("#d9d9d6", "#5c5c59"),
    )
