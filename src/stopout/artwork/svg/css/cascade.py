"""Style sheets resolved: every property that decides the picture becomes a plain attribute.

SVG readers differ in how much of CSS they know. After this step none of them needs any: the
cascade (CSS Cascading and Inheritance Level 4, section 6) has been run here, geometry properties
(SVG 2, chapter 7) and CSS transforms stand as attributes, and no style sheet is left. What is
declared and not honoured is told, or asked where it would change the picture.
"""

from __future__ import annotations

import re
from typing import Any

from stopout.artwork.colours import UnreadPaintError, plain_colour, plain_paint
from stopout.artwork.svg.css.properties import COLOURS, HONOURED, KEYWORDS, PAINTS, asked_of
from stopout.artwork.svg.css.rules import Tellers, matcher_of
from stopout.artwork.svg.css.transform import plain_transforms
from stopout.artwork.svg.elements import ANIMATIONS, remove, tag_of
from stopout.artwork.tone import luma

_INITIAL = {"fill": "#000000", "stroke": "none", "color": "#000000", "stroke-width": "1",
            "visibility": "visible", "fill-opacity": "1", "stroke-opacity": "1",
            "stroke-dasharray": "none", "fill-rule": "nonzero", "clip-rule": "nonzero",
            "text-transform": "none", "font-weight": "normal", "font-style": "normal",
            "text-anchor": "start", "letter-spacing": "normal", "word-spacing": "normal",
            "stroke-linecap": "butt", "stroke-linejoin": "miter", "stroke-miterlimit": "4",
            "stroke-dashoffset": "0", "font-variant": "normal"}  # fmt: skip
_SHORT = {"marker": ("marker-start", "marker-mid", "marker-end")}
_ALSO = {"text-decoration-line": "text-decoration", "-webkit-transform": "transform"}
_FONT_WORDS = {
    "font-style": ("italic", "oblique"),
    "font-weight": ("bold", "bolder", "lighter", *map(str, range(100, 1000, 100))),
    "font-variant": ("small-caps",),
}
_BACKGROUNDS = ("background", "background-color")
# A page as light as this is light at any threshold that is set by hand.
_PALE = 0.9
_MOVED = ("translate", "rotate", "scale")
# What the check rendering is known to take from attributes only, or not at all.
_ALONE = frozenset({"cx", "cy", "r", "rx", "ry", "x", "y", "width", "height", "d", "transform",
                    "transform-origin", "transform-box", "text-transform",
                    *_MOVED})  # fmt: skip
# Paints that the check rendering does not know, or not in this spelling.
_NEW_PAINT = re.compile(
    r"color-mix|light-dark|ok|l[ac][bh]\(|hwb|color\(|hsl|/|currentcolor|^(?!url|currentColor|#).*[A-Z]"
)
_GENERAL = ("initial", "unset", "revert", "revert-layer")
_DEEPEST = 20
_Rank = tuple[bool, int, tuple[int, int, int], int]


def resolve_styles(root: Any, tell: Tellers) -> None:
    """Turn style sheets and style attributes of a document into attributes, in place.

    Parameters
    ----------
    root : lxml element
        The document; its style sheets are removed.
    tell : Tellers
        Called for everything that is left aside, or cannot be read.
    """
    sheets = [item for item in root.iter() if _is_style(item)]
    matcher = matcher_of(sheets, tell)
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
            if not key.startswith("--"):
                _declare(element, key, text, names, tell)
        _finish(element, tell, turns=bool({"transform", *_MOVED} & set(found)))
    for sheet in sheets:
        remove(sheet)


def _declare(element: Any, key: str, text: str, names: dict[str, str], tell: Tellers) -> None:
    """Set one winning declaration, or tell why it is not."""
    if "var(" in text.lower():
        tell.alone(element, "var()")
        filled = _filled_in(text, names, 0)
        if filled is None:
            # Invalid at computed-value time (CSS Variables 1, section 3.1): as if never given.
            element.attrib.pop(key, None)
            tell.note(element, f"{key} '{text[:40]}' names nothing that is given; it is left aside")
            return
        text = filled
    if key in _BACKGROUNDS and element.getparent() is None and not _is_pale(text):
        tell.ask(element, "background", f"{key} '{text[:40]}' is not read (draw it as a rectangle)")
    if (asked := asked_of(key, " ".join(text.lower().split()))) is not None:
        if asked == "mask-image" and text.strip().lower().startswith("url("):
            key = "mask"
            tell.alone(element, "mask-image")
        else:
            words = f"{key} '{text[:40]}' is not read"
            tell.ask(element, asked, words)
            return
    if key in HONOURED:
        if key in _ALONE:
            tell.alone(element, f"{key} as a style")
        _set(element, key, text)


def _is_pale(background: str) -> bool:
    """Whether a page's background is as light as paper."""
    if background.strip().lower() in ("", "none", "inherit", *_GENERAL):
        return True
    try:
        plain = plain_colour(background)
    except UnreadPaintError:
        return False
    if not plain.startswith("#"):
        return plain.endswith(",0.0)")
    red, green, blue = bytes.fromhex(plain[1:])
    return luma((red, green, blue)) >= _PALE


def _filled_in(text: str, names: dict[str, str], depth: int) -> str | None:
    """Put the values of custom properties in the place of `var(...)`; None where one is missing."""
    import tinycss2

    if depth > _DEEPEST:
        return None
    parts = []
    for token in tinycss2.parse_component_value_list(text):
        if token.type == "function" and token.lower_name == "var":
            value = _variable(token.arguments, names, depth)
        elif token.type == "function" and "var(" in token.serialize().lower():
            inner = _filled_in(tinycss2.serialize(token.arguments), names, depth + 1)
            value = None if inner is None else f"{token.name}({inner})"
        else:
            value = token.serialize()
        if value is None:
            return None
        parts.append(value)
    return "".join(parts).strip()


def _variable(arguments: list[Any], names: dict[str, str], depth: int) -> str | None:
    import tinycss2

    name, comma, fallback = tinycss2.serialize(arguments).partition(",")
    value = names.get(name.strip())
    if value is not None and value.strip().lower() != "initial":
        filled = _filled_in(value, names, depth + 1)
        if filled is not None:
            return filled
    return _filled_in(fallback, names, depth + 1) if comma else None


def _wrap(root: Any) -> Any:
    import cssselect2

    return cssselect2.ElementWrapper.from_xml_root(root)


def _is_style(item: Any) -> bool:
    if not isinstance(item.tag, str) or tag_of(item) != "style":
        return False
    return str(item.get("type", "text/css")).strip().lower() in ("", "text/css")


def _declared(wrapped: Any, matcher: Any) -> dict[str, str]:
    """The winning declarations of one element, by property."""
    import tinycss2

    ranked: list[tuple[_Rank, str, str]] = []
    for specificity, _, _, (number, items) in matcher.match(wrapped):
        ranked += _ranked(items, 0, specificity, number)
    if inline := wrapped.etree_element.get("style"):
        items = tinycss2.parse_blocks_contents(inline, skip_comments=True, skip_whitespace=True)
        ranked += _ranked(items, 1, (0, 0, 0), 0)
    ranked.sort(key=lambda item: item[0])
    return {key: text for _, key, text in ranked}


def _ranked(
    items: list[Any], origin: int, specificity: tuple[int, int, int], number: int
) -> list[tuple[_Rank, str, str]]:
    import tinycss2

    found: list[tuple[_Rank, str, str]] = []
    for item in items:
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
    return _ALSO.get(item.lower_name, str(item.lower_name))


def _font(text: str) -> dict[str, str]:
    """Split the shorthand: [style] [weight] size[/line-height] family (CSS Fonts 4, 2.7)."""
    words = text.split()
    found = {"font-style": "normal", "font-weight": "normal", "font-variant": "normal"}
    while words:
        word = words[0].lower()
        key = next((key for key, known in _FONT_WORDS.items() if word in known), None)
        if key is None and word != "normal":
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
    tag = tag_of(element)
    plain = text.lower()
    if key in ("x", "y", "width", "height", "rx", "ry") and tag in ("text", "tspan", "textPath"):
        return
    if key in _MOVED:
        element.set(f"css-{key}", text)
    elif plain in _GENERAL:
        element.attrib.pop(key, None)
        if plain == "initial" and key in _INITIAL:
            element.set(key, _INITIAL[key])
    elif key == "d":
        match = re.match(r"""path\(\s*(?:\w+\s*,)?\s*(["'])(.*)\1\s*\)$""", text, re.DOTALL)
        element.set(key, match[2] if match else "")
    else:
        element.set(key, text)


def _finish(element: Any, tell: Tellers, *, turns: bool) -> None:
    """Write what only newer readers know in the words that all of them know."""
    for key in (PAINTS | COLOURS) & set(element.attrib):
        text = element.get(key)
        if text.strip().lower() in _GENERAL or not text.strip():
            _set(element, key, text.strip() or "unset")
            continue
        if key in PAINTS and tag_of(element) in ANIMATIONS:
            # There `fill` says what becomes of the motion at its end.
            continue
        try:
            element.set(key, plain_paint(text) if key in PAINTS else plain_colour(text))
        except UnreadPaintError as unread:
            tell.fault(element, f"{key}: {unread}")
        if _NEW_PAINT.search(text):
            tell.alone(element, f"{key} '{text.strip()[:30]}'")
    for key in KEYWORDS & set(element.attrib):
        text = element.get(key).strip()
        if text != text.lower():
            tell.alone(element, f"{key} '{text[:30]}'")
        element.set(key, text.lower())
    if turns or "transform-origin" in element.attrib:
        plain_transforms(element, tell.fault)
    _finish_cuts(element, tell)


def _finish_cuts(element: Any, tell: Tellers) -> None:
    """Clip paths and masks that are references stay; shapes and pictures are asked."""
    for key in ("clip-path", "mask"):
        text = element.get(key, "").strip()
        if not text or text.lower() in ("none", "inherit"):
            continue
        if text.lower() in _GENERAL:
            del element.attrib[key]
            continue
        match = re.match(r"url\(\s*(?:\"([^\"]*)\"|'([^']*)'|([^'\"()\s]*))\s*\)", text)
        rest = text[match.end() :].strip().lower() if match else ""
        if match and (not rest or rest in ("luminance", "match-source", "border-box", "alpha")):
            target = next(part for part in match.groups() if part is not None)
            element.set(key, f"url({target})")
            if rest == "alpha":
                tell.ask(element, key, f"{key} '{text[:40]}' is not read")
        else:
            del element.attrib[key]
            tell.ask(element, key, f"{key} '{text[:40]}' is not read")
