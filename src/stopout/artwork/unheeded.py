"""What the picture does without: effects and embedded things that cannot be etched as drawn.

Each is taken out of the document, so that the import and its check see the same picture, and is
told with the element's name and with what was done.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

__all__ = ["leave_aside"]

_TAKEN_OUT = {
    "image": "a picture inside the SVG was left out, and no file was opened for it; "
    "trace it, or give the picture itself as artwork",
    "foreignObject": "an embedded page was left out; convert it to outlines",
    "video": "it was left out; only drawn shapes are read",
    "audio": "it was left out; only drawn shapes are read",
    "iframe": "it was left out; only drawn shapes are read",
    "canvas": "it was left out; only drawn shapes are read",
    "mesh": "a mesh gradient was left out; draw plain shapes",
}
_MOVING = frozenset(
    {"animate", "animateMotion", "animateTransform", "animateColor", "set", "discard"}
)
_EFFECTS = {
    "filter": "the filter effect was left out; the shape is read without it",
    "mix-blend-mode": "the blend mode was left out; the shape is read as plain paint",
    "vector-effect": "vector-effect was left out; the line grows with the drawing",
}
Tell = Callable[[Any, str], None]


def leave_aside(root: Any, tell: Tell) -> None:
    """Take out of a document what cannot be honoured, in place, and tell each.

    Parameters
    ----------
    root : lxml element
        A document whose styles have been resolved to attributes.
    tell : callable
        Called with the element and a clause that says what was done.
    """
    for element in list(_elements(root)):
        tag = str(element.tag).rpartition("}")[2]
        if tag in _TAKEN_OUT and element.getparent() is not None:
            tell(element, _TAKEN_OUT[tag])
            _remove(element)
            continue
        if tag in _MOVING:
            tell(element, "the animation is ignored; the artwork is read at rest")
            _remove(element)
        elif tag == "script":
            tell(element, "scripts are not run")
            _remove(element)
        for key, words in _EFFECTS.items():
            value = element.attrib.pop(key, "none").strip()
            if value not in ("none", "normal", "", "inherit"):
                tell(element, words)
        for key in [key for key in element.attrib if key.lower().startswith("on")]:
            del element.attrib[key]


def _elements(root: Any) -> Iterator[Any]:
    return (item for item in root.iter() if isinstance(item.tag, str))


def _remove(element: Any) -> None:
    parent = element.getparent()
    if parent is None:
        return
    if element.tail:
        before = element.getprevious()
        if before is not None:
            before.tail = (before.tail or "") + element.tail
        else:
            parent.text = (parent.text or "") + element.tail
    parent.remove(element)
