"""Clip paths whose shapes are moved within them.

The normaliser drops the transform of a shape within a clip path, and altogether a `use` there with
a moved target and a group, as letters are once they are outlined. Such shapes are painted for it
once more as plain content at the document's end, where it keeps what moves them, and put back into
their clip path afterwards.
"""

from __future__ import annotations

import copy
from typing import Any

from stopout.artwork.svg.elements import SVG, tag_of, target_of
from stopout.artwork.svg.normalise import Normalised, normalise

_PLACE = "stopout-clip-"
# A shape in a clip path counts by its geometry and its own clip path alone.
_NOT_ITS_SHAPE = ("id", "style", "opacity", "fill-opacity", "mask", "filter", "stroke")


def normalised(svg: bytes, *, name: str) -> Normalised:
    """Normalise a safe document as `normalise` does, and keep what moves shapes in clip paths.

    Raises
    ------
    ArtworkError
        If the document cannot be normalised.
    """
    from lxml import etree

    if b"clipPath" not in svg:
        return normalise(svg, name=name)
    root = etree.fromstring(svg)
    lifted = [clip for clip in root.iter(f"{{{SVG}}}clipPath") if _has_moved(clip)]
    if not lifted:
        return normalise(svg, name=name)
    named = {element.get("id"): element for element in root.iter() if element.get("id")}
    for number, clip in enumerate(lifted):
        root.append(_painted(clip, named, f"{_PLACE}{number}"))
    for clip in lifted:
        _leave_a_place(clip)
    made = normalise(etree.tostring(root, encoding="utf-8"), name=name)
    return Normalised(svg=_put_back(made.svg, lifted), warnings=made.warnings)


def _has_moved(clip: Any) -> bool:
    return clip.get("id") is not None and any(
        child.get("transform") is not None or tag_of(child) in ("use", "g") for child in clip
    )


def _painted(clip: Any, named: dict[str, Any], ident: str) -> Any:
    """The shapes of a clip path as black content."""
    from lxml import etree

    group = etree.Element(f"{{{SVG}}}g", id=ident)
    for child in clip:
        shape = copy.deepcopy(child)
        within = group
        if tag_of(child) == "use":
            target = named.get(target_of(child))
            if target is None:
                continue
            way = f"{child.get('transform', '')} translate({child.get('x', 0)} {child.get('y', 0)})"
            within = etree.SubElement(group, f"{{{SVG}}}g", transform=way.strip())
            if child.get("clip-path"):
                within.set("clip-path", child.get("clip-path"))
            shape = copy.deepcopy(target)
        shape.tail = None
        for part in shape.iter():
            for key in _NOT_ITS_SHAPE:
                part.attrib.pop(key, None)
            part.set("fill", "#000000")
            part.set("fill-rule", _rule(part) or _rule(child) or _rule(clip) or "nonzero")
        within.append(shape)
    return group


def _rule(element: Any) -> str | None:
    """The rule by which an element's shape is filled where it clips; by its parents if not said."""
    while element is not None:
        if element.get("clip-rule") not in (None, "inherit"):
            return str(element.get("clip-rule"))
        element = element.getparent()
    return None


def _leave_a_place(clip: Any) -> None:
    """Leave one plain shape in a clip path, so that the normaliser keeps it."""
    from lxml import etree

    for child in list(clip):
        clip.remove(child)
    etree.SubElement(clip, f"{{{SVG}}}rect", width="1", height="1")


def _put_back(svg: bytes, lifted: list[Any]) -> bytes:
    from lxml import etree

    root = etree.fromstring(svg)
    named = {element.get("id"): element for element in root.iter() if element.get("id")}
    for number, before in enumerate(lifted):
        painted, clip = named.get(f"{_PLACE}{number}"), named.get(before.get("id"))
        if clip is not None:
            for child in list(clip):
                clip.remove(child)
        if painted is not None:
            painted.getparent().remove(painted)
            if clip is not None:
                clip.append(painted)
    return bytes(etree.tostring(root, encoding="utf-8"))
