"""What is asked of any element of an SVG document: its kind, its name in a message, its target."""

from __future__ import annotations

from typing import Any

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
ANIMATIONS = frozenset({"animate", "animateMotion", "animateTransform", "animateColor", "set"})


def tag_of(element: Any) -> str:
    """Return an element's kind, without its namespace."""
    return str(element.tag).rpartition("}")[2]


def called(element: Any) -> str:
    """Name an element for a message: its kind and its id, or its line."""
    ident = element.get("id")
    where = f' id="{ident}"' if ident else ""
    line = f" (line {element.sourceline})" if element.sourceline else ""
    return f"<{tag_of(element)}{where}>{line}"


def target_of(element: Any) -> str:
    """Return the id that an element refers to; empty where it refers to none."""
    return href_of(element).lstrip("#")


def href_of(element: Any) -> str:
    """Return what an element refers to, in the new or the old spelling; empty where to nothing."""
    return str(element.get("href") or element.get(f"{{{XLINK}}}href") or "").strip()


def remove(element: Any) -> None:
    """Take an element out, and keep the text behind it."""
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
