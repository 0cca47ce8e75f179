"""Style sheets resolved: every property that decides the picture becomes a plain attribute.

SVG readers differ in how much of CSS they know. After this step none of them needs any: the
cascade (CSS Cascading and Inheritance Level 4, section 6) has been run here, geometry properties
(SVG 2, chapter 7) and CSS transforms stand as attributes, and no style sheet is left.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from math import degrees
from typing import Any

__all__ = ["resolve_styles"]

_PROPERTIES = frozenset(
    {"alignment-baseline", "baseline-shift", "clip-path", "clip-rule", "color",
     "color-interpolation", "color-interpolation-filters", "display", "dominant-baseline",
     "fill", "fill-opacity", "fill-rule", "filter", "font-family", "font-size", "font-stretch",
     "font-style", "font-variant", "font-weight", "font-kerning", "font-feature-settings",
     "letter-spacing", "marker-end", "marker-mid", "marker-start", "mask", "mask-type",
     "mix-blend-mode", "opacity", "overflow", "paint-order", "shape-rendering", "stop-color",
     "stop-opacity", "stroke", "stroke-dasharray", "stroke-dashoffset", "stroke-linecap",
     "stroke-linejoin", "stroke-miterlimit", "stroke-opacity", "stroke-width", "text-anchor",
     "text-decoration", "text-rendering", "vector-effect", "visibility", "white-space",
     "word-spacing", "writing-mode", "direction", "cx", "cy", "d", "height", "r", "rx", "ry",
     "width", "x", "y", "transform", "transform-box", "transform-origin"}
)  # fmt: skip
_COLOURS = frozenset({"fill", "stroke", "color", "stop-color"})
_INHERITED = frozenset(
    {"fill", "stroke", "color", "font-family", "font-size", "visibility", "stroke-width"}
)
_SHORT = {"marker": ("marker-start", "marker-mid", "marker-end")}
_FONT_WORDS = {
    "font-style": ("italic", "oblique"),
    "font-weight": ("bold", "bolder", "lighter", *map(str, range(100, 1000, 100))),
}
_FUNCTION = re.compile(r"([a-zA-Z]+)\(([^()]*)\)")
_VAR = re.compile(r"var\(\s*(--[\w-]+)\s*(?:,([^()]*))?\)")
_NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-zA-Z%]*)$")
_DEGREES = {"": 1.0, "deg": 1.0, "grad": 0.9, "rad": degrees(1.0), "turn": 360.0}
_PX = {"": 1.0, "px": 1.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4, "pt": 96 / 72, "pc": 16.0}
_TAKES = {
    "matrix": (6, 6), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1, 1),
    "skewY": (1, 1), "translateX": (1, 1), "translateY": (1, 1), "scaleX": (1, 1),
    "scaleY": (1, 1), "skew": (1, 2),
}  # fmt: skip
# (important, origin, specificity, order): later in this order wins.
_Rank = tuple[bool, int, tuple[int, int, int], int]
Tell = Callable[[Any, str], None]


def resolve_styles(root: Any, tell: Tell) -> None:
    """Turn style sheets and style attributes of a document into attributes, in place.

    Parameters
    ----------
    root : lxml element
        The document; its style sheets are removed.
    tell : callable
        Called with an element and a clause for everything that is left aside.
    """
    sheets = [item for item in root.iter() if _is_style(item)]
    matcher = _matcher(sheets, tell)
    custom: dict[Any, dict[str, str]] = {}
    for wrapped in _wrap(root).iter_subtree():
        element = wrapped.etree_element
        if not isinstance(element.tag, str):
            continue
        found = _declared(wrapped, matcher)
        names = dict(custom.get(element.getparent(), {}))
        names.update({key: text for key, text in found.items() if key.startswith("--")})
        custom[element] = names
        if "style" in element.attrib:
            del element.attrib["style"]
        for key, text in found.items():
            if key in _PROPERTIES:
                _set(element, key, _filled_in(text, names))
        _finish(element, tell, turns="transform" in found)
    for sheet in sheets:
        _remove(sheet)


def _filled_in(text: str, names: dict[str, str]) -> str:
    """Put the values of custom properties in the place of `var(...)`."""
    return _VAR.sub(lambda match: names.get(match[1], match[2] or "").strip(), text)


def _wrap(root: Any) -> Any:
    import cssselect2

    return cssselect2.ElementWrapper.from_xml_root(root)


def _is_style(item: Any) -> bool:
    if not isinstance(item.tag, str) or item.tag.rpartition("}")[2] != "style":
        return False
    return str(item.get("type", "text/css")).strip() in ("", "text/css")


def _remove(element: Any) -> None:
    parent = element.getparent()
    if parent is not None:
        tail, before = element.tail or "", element.getprevious()
        if before is not None:
            before.tail = (before.tail or "") + tail
        else:
            parent.text = (parent.text or "") + tail
        parent.remove(element)


def _matcher(sheets: list[Any], tell: Tell) -> Any:
    """Compile every rule; selectors that cannot be read are told and left aside."""
    import cssselect2
    import tinycss2

    matcher = cssselect2.Matcher()
    order = 0
    for sheet in sheets:
        rules = tinycss2.parse_stylesheet("".join(sheet.itertext()), True, True)
        for rule in _plain_rules(rules, sheet, tell):
            order += 1
            try:
                for selector in cssselect2.compile_selector_list(rule.prelude):
                    matcher.add_selector(selector, (order, rule.content))
            except cssselect2.SelectorError:
                words = tinycss2.serialize(rule.prelude).strip()[:60]
                tell(sheet, f"the selector '{words}' is not read; its styles are left aside")
    return matcher


def _plain_rules(rules: list[Any], sheet: Any, tell: Tell) -> list[Any]:
    import tinycss2

    kept = []
    for rule in rules:
        if rule.type == "qualified-rule":
            kept.append(rule)
        elif rule.type == "at-rule" and rule.lower_at_keyword == "media":
            words = tinycss2.serialize(rule.prelude).strip().lower()
            if words in ("", "all", "screen") and rule.content is not None:
                inner = tinycss2.parse_rule_list(rule.content, True, True)
                kept += _plain_rules(inner, sheet, tell)
            else:
                tell(sheet, f"the styles for '@media {words[:40]}' are left aside")
        elif rule.type == "at-rule" and rule.lower_at_keyword == "font-face":
            tell(sheet, "a font brought by the file was left aside; name its file in artwork.fonts")
        elif rule.type == "at-rule" and rule.lower_at_keyword not in ("charset", "namespace"):
            tell(sheet, f"@{rule.at_keyword[:40]} is left aside")
    return kept


def _declared(wrapped: Any, matcher: Any) -> dict[str, str]:
    """The winning declarations of one element, by property."""
    ranked: list[tuple[_Rank, str, str]] = []
    for specificity, _, _, (number, content) in matcher.match(wrapped):
        ranked += _declarations(content, 0, specificity, number)
    inline = wrapped.etree_element.get("style")
    if inline:
        ranked += _declarations(inline, 1, (0, 0, 0), 0)
    ranked.sort(key=lambda item: item[0])
    return {key: text for _, key, text in ranked}


def _declarations(
    content: Any, origin: int, specificity: tuple[int, int, int], number: int
) -> list[tuple[_Rank, str, str]]:
    import tinycss2

    found: list[tuple[_Rank, str, str]] = []
    for item in tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True):
        if item.type != "declaration":
            continue
        text = tinycss2.serialize([t for t in item.value if t.type != "comment"]).strip()
        rank = (item.important, origin, specificity, number)
        if item.lower_name == "font":
            found += [(rank, key, value) for key, value in _font(text).items()]
            continue
        for key in _SHORT.get(item.lower_name, (_long_name(item),)):
            found.append((rank, key, text))
    return found


def _long_name(item: Any) -> str:
    if item.lower_name.startswith("--"):
        return str(item.name)
    return {"text-decoration-line": "text-decoration"}.get(item.lower_name, str(item.lower_name))


def _font(text: str) -> dict[str, str]:
    """Split the shorthand: [style] [weight] size[/line-height] family (CSS Fonts 4, 2.7)."""
    words = text.split()
    found = {"font-style": "normal", "font-weight": "normal"}
    while words:
        word = words[0].lower()
        key = next((key for key, known in _FONT_WORDS.items() if word in known), None)
        if key is None and word not in ("normal", "small-caps"):
            break
        if key:
            found[key] = word
        words.pop(0)
    if len(words) < 2:
        return {}
    found["font-size"] = words[0].partition("/")[0]
    found["font-family"] = " ".join(words[1:])
    return found


def _set(element: Any, key: str, text: str) -> None:
    tag = element.tag.rpartition("}")[2]
    plain = text.lower()
    if key in ("x", "y", "width", "height", "rx", "ry") and tag in ("text", "tspan", "textPath"):
        return
    if plain in ("initial", "unset", "revert", "revert-layer"):
        if plain == "initial" and key in _INHERITED:
            element.set(key, {"fill": "#000", "stroke": "none", "color": "#000"}.get(key, text))
        else:
            element.attrib.pop(key, None)
    elif key == "d":
        match = re.match(r"""path\(\s*(?:\w+\s*,)?\s*(["'])(.*)\1\s*\)$""", text, re.DOTALL)
        element.set(key, match[2] if match else "")
    else:
        element.set(key, text)


def _finish(element: Any, tell: Tell, *, turns: bool) -> None:
    """Write what only newer readers know in the words that all of them know."""
    for key in _COLOURS & set(element.attrib):
        element.set(key, _plain_colour(element.get(key)))
    if turns or "transform-origin" in element.attrib:
        _finish_transform(element, tell)
    clip = element.get("clip-path", "")
    if clip and not clip.startswith("url(") and clip not in ("none", "inherit"):
        del element.attrib["clip-path"]
        tell(element, f"clip-path '{clip[:40]}' is not read; the shape is not clipped by it")


def _plain_colour(text: str) -> str:
    """Colours of CSS Color 4 as `#rrggbb` or `rgba(...)`; everything else as it stands."""
    if "(" not in text or text.startswith("url("):
        return text
    from tinycss2.color4 import parse_color

    colour = parse_color(text)
    if colour is None or isinstance(colour, str):
        return text
    try:
        srgb = colour.to("srgb")
    except (NotImplementedError, ValueError):
        return text
    red, green, blue = (min(255, max(0, round(255 * (part or 0.0)))) for part in srgb.coordinates)
    alpha = srgb.alpha if srgb.alpha is not None else 1.0
    if alpha == 1.0:
        return f"#{red:02x}{green:02x}{blue:02x}"
    return f"rgba({red},{green},{blue},{alpha!r})"


def _finish_transform(element: Any, tell: Tell) -> None:
    origin = element.attrib.pop("transform-origin", "").strip()
    box = element.attrib.pop("transform-box", "view-box").strip()
    text = element.get("transform", "").strip()
    if not text or text == "none":
        element.attrib.pop("transform", None)
        return
    plain = _plain_transform(text)
    if plain is None:
        tell(element, f"transform '{text[:60]}' is not read; the shape stays where it is drawn")
        del element.attrib["transform"]
        return
    if origin:
        at = _origin(element, origin, box)
        if at is None:
            tell(element, f"transform-origin '{origin[:40]}' is not read; it turns about (0, 0)")
        else:
            x, y = at
            plain = f"translate({x!r} {y!r}) {plain} translate({-x!r} {-y!r})"
    element.set("transform", plain)


def _plain_transform(text: str) -> str | None:
    """A list of transform functions, angles in degrees and lengths in px without units."""
    rest = _FUNCTION.sub(" ", text).replace(",", " ").strip()
    parts = [_plain_function(name, inner) for name, inner in _FUNCTION.findall(text)]
    if rest or not parts or None in parts:
        return None
    return " ".join(part for part in parts if part)


def _plain_function(name: str, inner: str) -> str | None:
    known = {key.lower(): key for key in _TAKES}.get(name.lower())
    words = re.findall(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?[a-zA-Z%]*", inner)
    if known is None or re.sub(r"[\s,]", "", inner) != "".join(words):
        return None
    least, most = _TAKES[known]
    if not least <= len(words) <= most or (known == "rotate" and len(words) == 2):
        return None
    numbers = []
    for place, word in enumerate(words):
        match = _NUMBER.match(word)
        turns = (known.startswith(("rotate", "skew")) and place == 0) or known == "skew"
        units = _DEGREES if turns else _PX
        if match is None or match[2].lower() not in units:
            return None
        numbers.append(float(match[1]) * units[match[2].lower()])
    return _spelt(known, numbers)


def _spelt(name: str, numbers: list[float]) -> str:
    """Functions that only CSS knows, in those that SVG knows."""
    if name in ("translateX", "translateY"):
        numbers = [numbers[0], 0.0] if name.endswith("X") else [0.0, numbers[0]]
        name = "translate"
    elif name in ("scaleX", "scaleY"):
        numbers = [numbers[0], 1.0] if name.endswith("X") else [1.0, numbers[0]]
        name = "scale"
    elif name == "skew":
        from math import radians, tan

        a, b = numbers[0], (numbers[1] if len(numbers) > 1 else 0.0)
        name, numbers = "matrix", [1.0, tan(radians(b)), tan(radians(a)), 1.0, 0.0, 0.0]
    return f"{name}({' '.join(map(repr, numbers))})"


_SHARES = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}


def _origin(element: Any, text: str, box: str) -> tuple[float, float] | None:
    words = text.lower().split()[:2]
    if not words or any(word in ("inherit", "initial") for word in words):
        return None
    if words[0] in ("top", "bottom") or (len(words) == 2 and words[1] in ("left", "right")):
        words = words[::-1] if len(words) == 2 else ["center", words[0]]
    words = [_SHARES.get(word, word) for word in words] + ["50%"] * (2 - len(words))
    frame = _frame(element, box)
    found = []
    for word, axis in zip(words, (0, 1), strict=True):
        match = _NUMBER.match(word)
        if match is None or (match[2] != "%" and match[2].lower() not in _PX):
            return None
        if match[2] == "%" or box == "fill-box":
            if frame is None:
                return None
            share = float(match[1]) / 100 * frame[axis + 2] if match[2] == "%" else float(match[1])
            found.append(frame[axis] + share)
        else:
            found.append(float(match[1]) * _PX[match[2].lower()])
    return found[0], found[1]


def _frame(element: Any, box: str) -> tuple[float, float, float, float] | None:
    """The box that an origin refers to: (x, y, width, height), None where it is not known."""

    def number(key: str) -> float:
        return float(element.get(key, "0").removesuffix("px"))

    tag = element.tag.rpartition("}")[2]
    try:
        if box != "fill-box":
            view = element.getroottree().getroot().get("viewBox")
            parts = [float(part) for part in (view or "").replace(",", " ").split()]
            return (0.0, 0.0, parts[2], parts[3]) if len(parts) == 4 else None
        if tag == "rect":
            return number("x"), number("y"), number("width"), number("height")
        if tag == "circle":
            r = number("r")
            return number("cx") - r, number("cy") - r, 2 * r, 2 * r
        if tag == "ellipse":
            rx, ry = number("rx"), number("ry")
            return number("cx") - rx, number("cy") - ry, 2 * rx, 2 * ry
    except ValueError:
        return None
    return None
