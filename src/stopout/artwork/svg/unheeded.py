"""What the picture does without: effects and embedded things that cannot be etched as drawn.

Each is taken out of the document and named. What the check rendering can draw (filters, blend
modes, pictures packed into the file) is judged by it: where the picture is dark in the same places
without, nothing is lost; where it is not, and for everything that no reader here can draw, the job
must say that it is to be made without (`artwork.leave_out`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from stopout.artwork.svg.css.properties import ELEMENTS
from stopout.artwork.svg.css.rules import Tellers
from stopout.artwork.svg.elements import ANIMATIONS, SVG, href_of, remove, tag_of

_ASKED = {
    "foreignObject": "an embedded page is not read; convert it to outlines",
    "video": "it is not read; only drawn shapes are",
    "iframe": "it is not read; only drawn shapes are",
    "canvas": "it is not read; only drawn shapes are",
    "mesh": "a mesh gradient is not read; draw plain shapes",
    "meshgradient": "a mesh gradient is not read; draw plain shapes",
    "hatch": "hatches are not read; draw the lines themselves",
    "solidColor": "this kind of paint is not read; give the shapes a plain colour",
    "solidcolor": "this kind of paint is not read; give the shapes a plain colour",
    "flowRoot": "flowed text is not read; convert it to plain text or to outlines",
    "tref": "borrowed text is not read; write the words themselves",
    "altGlyph": "chosen glyphs are not read; convert the lettering to outlines",
}
_SILENT = frozenset({"audio", "view", "cursor", "color-profile", "mpath", "discard"})
_EFFECTS = {"filter": "a filter effect", "mix-blend-mode": "a blend mode"}
_PACKED = ("data:image/png", "data:image/jpeg", "data:image/jpg", "data:image/gif",
           "data:image/webp")  # fmt: skip


def leave_aside(root: Any, tell: Tellers, effect: Callable[[Any, str, str], None]) -> None:
    """Take out of a document what cannot be honoured, in place, and tell each.

    Parameters
    ----------
    root : lxml element
        A document whose styles have been resolved to attributes.
    tell : Tellers
        Called with the element and a clause that says what was done.
    effect : callable
        Called with element, name and clause for what the check rendering can judge.
    """
    for element in list(_elements(root)):
        if element is not root and _is_gone(element, root):
            continue
        _leave(element, tell, effect)
        for key, what in _EFFECTS.items():
            value = element.attrib.pop(key, "none").strip().lower()
            if value not in ("none", "normal", "", "inherit", "initial", "unset"):
                effect(element, key, f"{what} is left out; the shape is read without it")
        shown = element.get("vector-effect", "none")
        if shown not in ("none", "non-scaling-stroke", "inherit"):
            tell.ask(element, "vector-effect", f"vector-effect '{shown[:40]}' is not read")
        elif shown == "non-scaling-stroke":
            tell.alone(element, "vector-effect")
        for key in [key for key in element.attrib if key.lower().startswith("on")]:
            del element.attrib[key]


def _leave(element: Any, tell: Tellers, effect: Callable[[Any, str, str], None]) -> None:
    tag = tag_of(element)
    if tag == "image":
        _picture(element, tell, effect)
    elif tag in _ASKED:
        has_other = tag == "foreignObject" and _tag_of(element.getparent()) == "switch"
        if has_other:
            tell.note(element, "an embedded page is left out, and what stands in its place is read")
        elif not _is_hidden(element):
            tell.ask(element, tag, _ASKED[tag])
        remove(element)
    elif tag == "switch" and any(item.get("systemLanguage") for item in element):
        tell.note(element, "of what it holds for several languages, what is for English is read")
    elif tag in ANIMATIONS:
        tell.note(element, "the animation is ignored; the artwork is read at rest")
        remove(element)
    elif tag == "script":
        tell.note(element, "scripts are not run")
        remove(element)
    elif tag == "g" and _tag_of(element.getparent()) == "clipPath":
        tell.note(element, "a group has no place in a clip path; it is left out")
        remove(element)
    elif tag in _SILENT or (tag not in ELEMENTS and not tag.startswith("fe")):
        if tag in _SILENT:
            remove(element)
            return
        tell.note(element, "no reader of SVG knows this element; it is left out")
        if any(item.get("id") for item in element.iterdescendants()):
            # It is not drawn, but what is in it may be used (SVG 2, section 5.3).
            element.tag = f"{{{SVG}}}defs"
        else:
            remove(element)


def _picture(element: Any, tell: Tellers, effect: Callable[[Any, str, str], None]) -> None:
    href = href_of(element)
    if href and not _is_hidden(element):
        if href.lower().startswith(_PACKED):
            effect(
                element,
                "image",
                "a picture inside the SVG is left out; trace it, or give the picture as artwork",
            )
        else:
            tell.ask(
                element,
                "image",
                "a picture that lies in another file is not read, and no file is opened for it; "
                "trace it, or give the picture itself as artwork",
            )
    remove(element)


def _is_hidden(element: Any) -> bool:
    return any(item.get("display") == "none" for item in (element, *element.iterancestors()))


def _is_gone(element: Any, root: Any) -> bool:
    """Whether it was taken out together with something around it."""
    parent = element.getparent()
    while parent is not None:
        if parent is root:
            return False
        parent = parent.getparent()
    return True


def _tag_of(element: Any) -> str:
    return "" if element is None else tag_of(element)


def _elements(root: Any) -> Iterator[Any]:
    return (item for item in root.iter() if isinstance(item.tag, str))
