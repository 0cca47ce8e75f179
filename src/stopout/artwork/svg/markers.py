"""Markers written so that every reader draws them as SVG 2 (section 13.7) says.

`orient="auto-start-reverse"` is newer than some readers: the marker at the start becomes a second
one, turned by half a turn about its reference point. Markers also stand on lines without a stroke,
and in the middle of a line at its own corners only: arcs are written out as several curves before
they are read, so a line with arcs hands its markers to a bare copy with one curve to the arc.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable
from typing import Any

from stopout.artwork.svg.elements import SVG, tag_of
from stopout.artwork.svg.pathdata import PathDataError, write_out_arcs

_KEYS = ("marker-start", "marker-mid", "marker-end")
_MARKED = frozenset({"path", "line", "polyline", "polygon"})
# What belongs to the whole of line and markers, and goes to the group around both.
_SHARED = ("id", "class", "transform", "clip-path", "mask", "opacity", "display", "filter")
_NONE = "stopout-no-marker"


def write_out_markers(root: Any, alone: Callable[[Any, str], None]) -> None:
    """Rewrite markers and what refers to them, in place.

    `alone` is called for markers that the check rendering puts elsewhere.
    """
    elements = [item for item in root.iter() if isinstance(item.tag, str)]
    used = [item for item in elements if any(_is_used(item.get(key)) for key in _KEYS)]
    if not used:
        for item in elements:
            for key in _KEYS:
                item.attrib.pop(key, None)
        return
    _say_none(root, elements)
    _part_starts(root)
    for element in elements:
        if tag_of(element) in _MARKED:
            _mark(element, alone)


def _is_used(value: str | None) -> bool:
    return value is not None and value.strip().lower().startswith("url(")


def _say_none(root: Any, elements: list[Any]) -> None:
    """`none` becomes a marker without shapes, which stops inheriting and troubles no reader."""
    from lxml import etree

    said = False
    for item in elements:
        for key in _KEYS:
            value = item.get(key, "").strip().lower()
            if value in ("none", "initial"):
                item.set(key, f"url(#{_NONE})")
                said = True
            elif value and not _is_used(value):
                del item.attrib[key]
    if said:
        marker = etree.SubElement(root, f"{{{SVG}}}marker")
        marker.set("id", _NONE)
        marker.set("overflow", "visible")


def _inherited(element: Any, key: str) -> str:
    for item in (element, *element.iterancestors()):
        value = item.get(key)
        if value is not None and value.strip().lower() not in ("inherit", "unset"):
            return str(value).strip()
    return ""


def _mark(element: Any, alone: Callable[[Any, str], None]) -> None:
    """Give a line what it needs for its markers to be drawn where and as they should."""
    marks = {key: value for key in _KEYS if _is_used(value := _inherited(element, key))}
    marks = {key: value for key, value in marks.items() if value != f"url(#{_NONE})"}
    if not marks:
        return
    has_arcs = "A" in element.get("d", "").upper() and "marker-mid" in marks
    if not has_arcs:
        if _inherited(element, "stroke") in ("", "none"):
            element.set("stroke", "#000000")
            element.set("stroke-opacity", "0")
        return
    alone(element, "markers on a line with arcs")
    _hand_over(element, marks)


def _hand_over(element: Any, marks: dict[str, str]) -> None:
    from lxml import etree

    parent = element.getparent()
    if parent is None or tag_of(parent) == "clipPath":
        return
    try:
        plain = write_out_arcs(element.get("d"), is_single=True)
    except PathDataError:
        return
    group = etree.Element(f"{{{SVG}}}g")
    parent.replace(element, group)
    group.tail, element.tail = element.tail, None
    bare = etree.Element(f"{{{SVG}}}path")
    bare.set("d", plain)
    for key, value in (("fill", "none"), ("stroke", "#000000"), ("stroke-opacity", "0")):
        bare.set(key, value)
    if element.get("stroke-width"):
        bare.set("stroke-width", element.get("stroke-width"))
    for key in _SHARED:
        if key in element.attrib:
            group.set(key, element.attrib.pop(key))
    for key in _KEYS:
        element.set(key, f"url(#{_NONE})")
        bare.set(key, marks.get(key, f"url(#{_NONE})"))
    group.extend([element, bare])
    root = group.getroottree().getroot()
    if not any(item.get("id") == _NONE for item in root.iter(f"{{{SVG}}}marker")):
        marker = etree.SubElement(root, f"{{{SVG}}}marker")
        marker.set("id", _NONE)
        marker.set("overflow", "visible")


def _part_starts(root: Any) -> None:
    from lxml import etree

    turned: dict[str, str] = {}
    for marker in list(root.iter(f"{{{SVG}}}marker")):
        if marker.get("orient") != "auto-start-reverse" or not marker.get("id"):
            continue
        marker.set("orient", "auto")
        ident = marker.get("id")
        if ident in turned:
            continue
        other = copy.deepcopy(marker)
        turned[ident] = f"{ident}-at-start"
        other.set("id", turned[ident])
        clip = None
        if marker.get("overflow", "hidden") not in ("visible", "auto"):
            clip = _clip(marker, f"{ident}-at-start-clip")
        turn = etree.Element(f"{{{SVG}}}g")
        about = f"{marker.get('refX', '0')} {marker.get('refY', '0')}"
        turn.set("transform", f"rotate(180 {about})")
        turn.extend(list(other))
        if clip is not None:
            turn.set("clip-path", f"url(#{clip.get('id')})")
            other.append(clip)
        other.set("overflow", "visible")
        other.append(turn)
        marker.addnext(other)
    for element in root.iter() if turned else ():
        if isinstance(element.tag, str) and (used := element.get("marker-start")):
            match = re.match(r"""\s*url\(\s*["']?#([^"')]+?)["']?\s*\)""", used)
            if match and match[1] in turned:
                element.set("marker-start", f"url(#{turned[match[1]]})")


def _clip(marker: Any, ident: str) -> Any:
    from lxml import etree

    parts = (marker.get("viewBox") or "").replace(",", " ").split()
    if len(parts) != 4:
        parts = ["0", "0", marker.get("markerWidth", "3"), marker.get("markerHeight", "3")]
    clip = etree.Element(f"{{{SVG}}}clipPath")
    clip.set("id", ident)
    rect = etree.SubElement(clip, f"{{{SVG}}}rect")
    for key, value in zip(("x", "y", "width", "height"), parts, strict=True):
        rect.set(key, value)
    return clip
