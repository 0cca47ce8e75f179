"""Markers that turn round at the start of a line, written as two plain ones.

`orient="auto-start-reverse"` (SVG 2, section 13.7.3) is newer than some readers: the marker at
the start becomes a second one, turned by half a turn about its reference point.
"""

from __future__ import annotations

import copy
import re
from typing import Any

__all__ = ["part_start_markers"]

SVG = "http://www.w3.org/2000/svg"


def part_start_markers(root: Any) -> None:
    """Rewrite markers and what refers to them, in place."""
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
