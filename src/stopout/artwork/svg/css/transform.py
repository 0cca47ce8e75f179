"""CSS transforms written as the plain `transform` attribute that all readers know.

CSS Transforms Level 1 and, of Level 2, the properties `translate`, `rotate` and `scale`, which act
before `transform` in that order and turn about the same origin.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from math import degrees
from typing import Any

from stopout.artwork.svg.elements import tag_of
from stopout.artwork.svg.pagesize import LENGTH, PX_PER

_FUNCTION = re.compile(r"([a-zA-Z]+)\(([^()]*)\)")
_DEGREES = {"": 1.0, "deg": 1.0, "grad": 0.9, "rad": degrees(1.0), "turn": 360.0}
_TAKES = {
    "matrix": (6, 6), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1, 1),
    "skewY": (1, 1), "translateX": (1, 1), "translateY": (1, 1), "scaleX": (1, 1),
    "scaleY": (1, 1), "skew": (1, 2),
}  # fmt: skip
_SHARES = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}
Fault = Callable[[Any, str], None]


def plain_transforms(element: Any, fault: Fault) -> None:
    """Join translate, rotate, scale, transform and their origin into one attribute, in place.

    Parameters
    ----------
    element : lxml element
        With the winning declarations as attributes.
    fault : callable
        Called with the element and a clause for what cannot be worked out.
    """
    origin = element.attrib.pop("transform-origin", "").strip()
    box = element.attrib.pop("transform-box", "view-box").strip().lower()
    parts = []
    for key, reader in (("translate", _translate), ("rotate", _rotate), ("scale", _scale)):
        # The text element has attributes of two of these names, which say something else.
        value = element.attrib.pop(f"css-{key}", "none").strip()
        if value.lower() in ("none", "initial", "unset", "revert", "inherit"):
            continue
        plain = reader(value)
        if plain is None:
            fault(element, f"{key} '{value[:40]}' is not read; give it as transform=\"...\"")
            return
        parts.append(plain)
    text = element.attrib.pop("transform", "").strip()
    if text and text.lower() != "none":
        plain = _plain_transform(text)
        if plain is None:
            fault(element, f"transform '{text[:60]}' is not read; write it as matrix(a b c d e f)")
            return
        parts.append(plain)
    if not parts:
        return
    if origin:
        at = _origin(element, origin, box)
        if at is None:
            fault(element, f"transform-origin '{origin[:40]}' is not read; give it in px")
            return
        x, y = at
        parts = [f"translate({x!r} {y!r})", *parts, f"translate({-x!r} {-y!r})"]
    element.set("transform", " ".join(parts))


def _translate(text: str) -> str | None:
    words = text.split()
    if len(words) == 3 and LENGTH.match(words[2]) and float(LENGTH.match(words[2])[1]) == 0.0:  # type: ignore[index]
        words = words[:2]
    return _plain_function("translate", " ".join(words)) if len(words) in (1, 2) else None


def _rotate(text: str) -> str | None:
    words = text.lower().split()
    if len(words) == 2 and words[0] == "z":
        words = words[1:]
    elif len(words) == 2 and words[1] == "z":
        words = words[:1]
    elif len(words) == 4 and words[:3] == ["0", "0", "1"]:
        words = words[3:]
    return _plain_function("rotate", words[0]) if len(words) == 1 else None


def _scale(text: str) -> str | None:
    words = []
    for word in text.split():
        match = LENGTH.match(word)
        if match is None or match[2] not in ("", "%"):
            return None
        words.append(repr(float(match[1]) / (100.0 if match[2] else 1.0)))
    return _plain_function("scale", " ".join(words[:2])) if 1 <= len(words) <= 2 else None


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
        match = LENGTH.match(word)
        turns = (known.startswith(("rotate", "skew")) and place == 0) or known == "skew"
        units = _DEGREES if turns else PX_PER
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
        match = LENGTH.match(word)
        if match is None or (match[2] != "%" and match[2].lower() not in PX_PER):
            return None
        if match[2] == "%" or box == "fill-box":
            if frame is None:
                return None
            share = float(match[1]) / 100 * frame[axis + 2] if match[2] == "%" else float(match[1])
            found.append(frame[axis] + share)
        else:
            found.append(float(match[1]) * PX_PER[match[2].lower()])
    return found[0], found[1]


def _frame(element: Any, box: str) -> tuple[float, float, float, float] | None:
    """The box that an origin refers to: (x, y, width, height), None where it is not known."""

    def number(key: str) -> float:
        return float(element.get(key, "0").removesuffix("px"))

    tag = tag_of(element)
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
