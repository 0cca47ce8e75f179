"""Which CSS properties and SVG elements are honoured, which do no harm, and which must be asked.

The lists follow SVG 2 (chapters 6, 11, 13, 14), CSS Masking 1, CSS Transforms 2, Filter Effects 1,
CSS Text 3 and 4, CSS Fonts 4. A property that stands in none of them is unknown to browsers too.
"""

from __future__ import annotations

HONOURED = frozenset(
    {"alignment-baseline", "baseline-shift", "clip-path", "clip-rule", "color",
     "color-interpolation", "color-interpolation-filters", "display", "dominant-baseline",
     "fill", "fill-opacity", "fill-rule", "filter", "font-family", "font-size", "font-stretch",
     "font-style", "font-variant", "font-weight", "font-kerning", "font-feature-settings",
     "font-variant-caps", "font-variant-ligatures", "font-variant-numeric",
     "letter-spacing", "marker-end", "marker-mid", "marker-start", "mask", "mask-type",
     "mix-blend-mode", "opacity", "overflow", "paint-order", "stop-color",
     "stop-opacity", "stroke", "stroke-dasharray", "stroke-dashoffset", "stroke-linecap",
     "stroke-linejoin", "stroke-miterlimit", "stroke-opacity", "stroke-width", "text-anchor",
     "text-decoration", "text-transform", "vector-effect", "visibility", "white-space",
     "word-spacing", "writing-mode", "direction", "cx", "cy", "d", "height", "r", "rx", "ry",
     "width", "x", "y", "transform", "transform-box", "transform-origin", "translate", "rotate",
     "scale"}
)  # fmt: skip
PAINTS = frozenset({"fill", "stroke"})
COLOURS = frozenset({"color", "stop-color"})
# Values are words that CSS takes in any case; readers of plain attributes may not.
KEYWORDS = frozenset(
    {"clip-rule", "display", "fill-rule", "font-style", "overflow", "stroke-linecap",
     "stroke-linejoin", "text-anchor", "visibility", "vector-effect", "mix-blend-mode",
     "mask-type", "text-transform", "font-variant", "writing-mode", "direction"}
)  # fmt: skip
# What would change the picture and is not done: the values that leave it as it is.
ASKED: dict[str, frozenset[str]] = {
    "mask-image": frozenset({"none"}),
    "mask-border": frozenset({"none"}),
    "mask-border-source": frozenset({"none"}),
    "mask-mode": frozenset({"match-source", "luminance"}),
    "mask-clip": frozenset({"border-box", "no-clip"}),
    "mask-composite": frozenset({"add"}),
    "mask-position": frozenset({"0% 0%", "0 0"}),
    "mask-repeat": frozenset({"repeat", "no-repeat"}),
    "mask-size": frozenset({"auto"}),
    "offset-path": frozenset({"none"}),
    "offset": frozenset({"none"}),
    "zoom": frozenset({"1", "normal", "100%"}),
    "perspective": frozenset({"none"}),
    "inline-size": frozenset({"auto", "0", "0px"}),
    "shape-inside": frozenset({"auto", "none"}),
    "shape-subtract": frozenset({"none"}),
    "shape-padding": frozenset({"0", "0px"}),
    "line-height-step": frozenset({"0"}),
    "text-indent": frozenset({"0", "0px", "0%"}),
    "text-orientation": frozenset({"mixed"}),
    "text-combine-upright": frozenset({"none"}),
    "glyph-orientation-vertical": frozenset({"auto"}),
    "text-emphasis": frozenset({"none"}),
    "text-emphasis-style": frozenset({"none"}),
    "text-shadow": frozenset({"none"}),
    "text-stroke": frozenset({"0"}),
    "font-size-adjust": frozenset({"none"}),
    "font-variation-settings": frozenset({"normal"}),
    "font-variant-position": frozenset({"normal"}),
    "font-variant-alternates": frozenset({"normal"}),
    "font-variant-east-asian": frozenset({"normal"}),
    "unicode-bidi": frozenset({"normal", "embed", "isolate"}),
    "backdrop-filter": frozenset({"none"}),
    "content-visibility": frozenset({"visible", "auto"}),
    "clip": frozenset({"auto"}),
    "all": frozenset(),
    "stroke-alignment": frozenset({"center"}),
    "stroke-dash-corner": frozenset({"none"}),
}
_VENDOR = ("-webkit-", "-moz-", "-ms-", "-o-")
_GENERAL = frozenset({"inherit", "initial", "unset", "revert", "revert-layer"})
# Elements that draw, hold or describe; all others are shown by no browser.
ELEMENTS = frozenset(
    {"svg", "g", "defs", "symbol", "use", "switch", "a", "style", "title", "desc", "metadata",
     "view", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "text", "tspan",
     "textPath", "tref", "altGlyph", "image", "foreignObject", "clipPath", "mask", "marker",
     "pattern", "linearGradient", "radialGradient", "stop", "filter", "script", "animate",
     "animateMotion", "animateTransform", "animateColor", "set", "discard", "mpath", "video",
     "audio", "iframe", "canvas", "cursor", "font", "font-face", "glyph", "missing-glyph", "hkern",
     "vkern", "color-profile"}
)  # fmt: skip


def asked_of(name: str, value: str) -> str | None:
    """Return the plain name of a property that would change the picture and is not done, or None.

    Parameters
    ----------
    name, value : str
        A declaration, both in lower case.
    """
    plain = next((name.removeprefix(v) for v in _VENDOR if name.startswith(v)), name)
    if name in HONOURED or (plain in HONOURED and plain != name):
        # A prefixed name beside the plain one says the same; alone it is heeded by some browsers.
        return plain if name not in HONOURED and plain in ("mask", "clip-path") else None
    harmless = ASKED.get(plain)
    if harmless is None or value in harmless or value in _GENERAL:
        return None
    return plain
