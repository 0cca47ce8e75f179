"""An SVG document made safe: parsed without entities, without outside references, and measured.

Everything that would make a reader open another file or a network address is refused by name, as
is everything whose picture this package could not vouch for (images, embedded pages). What is
left is a document whose every element carries a unique id, with arcs written out (pathdata.py).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from stopout.artwork.pathdata import PathDataError, write_out_arcs
from stopout.artwork.scale import MM_PER_INCH, PX_PER_INCH, Page
from stopout.errors import ArtworkError

__all__ = ["Origin", "SvgSource", "read_source"]

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
_MOST_BYTES = 50_000_000
_MOST_ELEMENTS = 200_000
_DEEPEST = 200
_IDENT = "stopout-"
_DRAWN = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "text"})
_REFUSED = {
    "image": "pictures inside an SVG are not read; trace it, or give the picture itself as artwork",
    "foreignObject": "embedded pages and flowed text are not read; convert it to outlines",
    "textPath": "lettering along a path is not read; convert it to outlines",
    "solidColor": "this kind of paint is not read; give the shapes a plain colour",
    "meshgradient": "gradients cannot be etched; give the shapes a plain colour",
}
_MOVING = frozenset({"animate", "animateMotion", "animateTransform", "animateColor", "set"})
_URL = re.compile(r"url\(\s*(['\"]?)\s*([^'\")]*)", re.IGNORECASE)
_ESCAPE = re.compile(r"\\([0-9a-fA-F]{1,6})\s?")
_NOT_A_NUMBER = re.compile(r"(?<![\w#-])[+-]?(?:nan|inf|infinity)(?![\w-])", re.IGNORECASE)
_LENGTHS = frozenset(
    (
        "x",
        "y",
        "x1",
        "y1",
        "x2",
        "y2",
        "cx",
        "cy",
        "r",
        "rx",
        "ry",
        "dx",
        "dy",
        "width",
        "height",
        "stroke-width",
        "stroke-dashoffset",
    )
)
_NUMBERS = _LENGTHS | {
    "points",
    "transform",
    "viewBox",
    "stroke-dasharray",
    "stroke-miterlimit",
    "font-size",
}
_LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-zA-Z%]*)\s*\Z")
_PX_PER = {
    "": 1.0,
    "px": 1.0,
    "in": PX_PER_INCH,
    "cm": PX_PER_INCH / 2.54,
    "mm": PX_PER_INCH / MM_PER_INCH,
    "q": PX_PER_INCH / MM_PER_INCH / 4,
    "pt": PX_PER_INCH / 72,
    "pc": PX_PER_INCH / 6,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """What the file says about one element.

    `ident` is its own id, else the nearest enclosing one. `classes` are its own classes and those
    of the groups around it, and `#id` for every id among itself and the groups around it.
    """

    tag: str
    ident: str
    classes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SvgSource:
    """A safe document.

    Attributes
    ----------
    svg : bytes
        The document with unique ids, and with its size in px at the root.
    page : Page
        Its size in px and the millimetres that a px is by the file's own word.
    origins : dict
        What each unique id stood for in the file.
    has_text, has_round : bool
        Whether it holds text, and circles, ellipses or rounded rectangles.
    notes : tuple of str
        What was left aside without harm to the picture.
    """

    svg: bytes
    page: Page
    origins: dict[str, Origin]
    has_text: bool
    has_round: bool
    notes: tuple[str, ...]


def read_source(data: bytes, *, name: str) -> SvgSource:
    """Parse an SVG document and refuse what is unsafe or cannot be read faithfully.

    Raises
    ------
    ArtworkError
        All faults of the document together, one line each, each naming element and remedy.
    """
    root = _parse(data, name=name)
    _drop_foreign(root)
    faults: list[str] = []
    notes: list[str] = []
    elements = list(_walk(root, name=name))
    for element in elements:
        _check(element, faults, notes)
    _check_uses(elements, faults)
    if faults:
        raise ArtworkError("\n".join(f"{name}: {fault}" for fault in dict.fromkeys(faults)))
    page = _measure(root, name=name)
    origins = _give_ids(elements)
    from lxml import etree

    return SvgSource(
        svg=etree.tostring(root, encoding="utf-8"),
        page=page,
        origins=origins,
        has_text=any(_tag(element) == "text" for element in elements),
        has_round=any(_tag(element) in ("circle", "ellipse", "rect") for element in elements),
        notes=tuple(dict.fromkeys(notes)),
    )


def _parse(data: bytes, *, name: str) -> Any:
    from lxml import etree

    if len(data) > _MOST_BYTES:
        raise ArtworkError(
            f"{name}: the file has {len(data) / 1e6:.0f} MB; {_MOST_BYTES / 1e6:.0f} MB is the most"
        )
    if b"<!ENTITY" in data.replace(b"\0", b""):
        raise ArtworkError(
            f"{name}: the file declares entities in its DOCTYPE, which are not read; "
            "save it again as plain SVG"
        )
    parser = etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        remove_comments=True,
        strip_cdata=True,
    )
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as fault:
        line = f", line {fault.lineno}" if fault.lineno else ""
        raise ArtworkError(
            f"{name}{line}: this is not well-formed XML: {fault.msg.split(', line')[0]}"
        ) from None
    info = root.getroottree().docinfo
    if info.internalDTD is not None and not _is_plain_doctype(info):
        raise ArtworkError(
            f"{name}: the file's DOCTYPE refers to outside declarations; save it as plain SVG"
        )
    _check_instructions(root, name=name)
    if root.tag not in (f"{{{SVG}}}svg", "svg"):
        raise ArtworkError(f"{name}: the outermost element is <{_tag(root)}>, not <svg>")
    if root.tag == "svg":
        raise ArtworkError(f'{name}: <svg> lacks its namespace; write <svg xmlns="{SVG}">')
    return root


def _check_instructions(root: Any, *, name: str) -> None:
    """Refuse a style sheet that lies in another file: without it the colours would be wrong."""
    for item in (*root.itersiblings(preceding=True), *root.iter()):
        if getattr(item, "target", None) == "xml-stylesheet":
            raise ArtworkError(
                f"{name}: it takes a style sheet from another file; put the styles into the SVG"
            )


def _is_plain_doctype(info: Any) -> bool:
    """True for the document type that SVG 1.0 and 1.1 prescribe; it is named, never fetched."""
    dtd = info.internalDTD
    if any(True for _ in dtd.iterentities()) or any(True for _ in dtd.iterelements()):
        return False
    if info.public_id is None:
        return info.system_url is None
    return str(info.public_id).startswith("-//W3C//DTD SVG")


def _drop_foreign(root: Any) -> None:
    """Remove editors' private elements: no SVG reader draws them, and some hold addresses."""
    from lxml import etree

    for element in list(root.iter()):
        if element is root or element.getparent() is None:
            continue
        if isinstance(element.tag, str):
            space = etree.QName(element).namespace
            if space == SVG and _tag(element) != "metadata":
                continue
        _remove(element)


def _remove(element: Any) -> None:
    parent = element.getparent()
    if element.tail:
        before = element.getprevious()
        if before is not None:
            before.tail = (before.tail or "") + element.tail
        else:
            parent.text = (parent.text or "") + element.tail
    parent.remove(element)


def _walk(root: Any, *, name: str) -> Iterator[Any]:
    stack = [(root, 1)]
    count = 0
    while stack:
        element, depth = stack.pop()
        count += 1
        if depth > _DEEPEST:
            raise ArtworkError(
                f"{name}: elements are nested deeper than {_DEEPEST} levels; ungroup the artwork"
            )
        if count > _MOST_ELEMENTS:
            raise ArtworkError(f"{name}: more than {_MOST_ELEMENTS} elements; simplify the artwork")
        yield element
        children = [child for child in element if isinstance(child.tag, str)]
        stack.extend((child, depth + 1) for child in reversed(children))


def _tag(element: Any) -> str:
    return str(element.tag).rpartition("}")[2]


def _called(element: Any) -> str:
    """Name an element for a message: its kind and its id, or its line."""
    ident = element.get("id")
    where = f' id="{ident}"' if ident else ""
    line = f" (line {element.sourceline})" if element.sourceline else ""
    return f"<{_tag(element)}{where}>{line}"


def _check(element: Any, faults: list[str], notes: list[str]) -> None:
    tag = _tag(element)
    if tag in _REFUSED:
        faults.append(f"{_called(element)}: {_REFUSED[tag]}")
        return
    if tag in _MOVING:
        notes.append(f"{_called(element)}: animation is ignored; the artwork is read at rest")
    if tag == "script":
        notes.append(f"{_called(element)}: scripts are not run")
        element.text = None
    if tag == "style":
        _check_style(element, element.text or "", faults)
    for key, value in list(element.attrib.items()):
        _check_attribute(element, key, value, faults)
    if tag == "path" and element.get("d") is not None:
        _check_path(element, faults)


def _check_attribute(element: Any, key: str, value: str, faults: list[str]) -> None:
    plain = key.rpartition("}")[2]
    if plain == "href" and not value.strip().startswith("#"):
        if _tag(element) == "a":
            # A link that a reader might follow: nothing is loaded from it.
            del element.attrib[key]
        elif value.strip():
            faults.append(_outside(element, value))
    elif key == "{http://www.w3.org/XML/1998/namespace}base":
        faults.append(f"{_called(element)}: xml:base is not read; remove it")
    elif plain in _NUMBERS and _NOT_A_NUMBER.search(value):
        faults.append(
            f'{_called(element)}: {plain}="{value[:40]}" holds something that is no number'
        )
    elif plain in _LENGTHS and "}" not in key:
        _check_lengths(element, plain, value, faults)
    else:
        _check_style(element, value, faults)


def _check_lengths(element: Any, key: str, value: str, faults: list[str]) -> None:
    """Check the lengths of a drawn element, which the normaliser would leave out if unreadable."""
    if _tag(element) not in _DRAWN | {"use", "svg", "tspan"} or element.getparent() is None:
        return
    parts = value.replace(",", " ").split()
    for part in parts if parts else [""]:
        match = _LENGTH.match(part)
        unit = match[2].lower() if match else "?"
        if match is None and part in ("auto", "none"):
            continue
        if match is None or unit not in _PX_PER.keys() | {"%", "em", "ex"}:
            faults.append(
                f'{_called(element)}: {key}="{value[:40]}" is no length that is read; '
                "give a plain number or mm"
            )
            return
    if len(parts) == 1 and unit == "q" and match:
        # A quarter millimetre is a unit of CSS that the normaliser does not know.
        element.set(key, repr(float(match[1]) * _PX_PER["q"]))


def _check_style(element: Any, text: str, faults: list[str]) -> None:
    if "(" not in text and "@" not in text and "\\" not in text:
        return
    text = _ESCAPE.sub(lambda match: _character(match[1]), text)
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
    if "@import" in text.lower():
        faults.append(f"{_called(element)}: @import loads another file; put the styles here")
        return
    if "@font-face" in text.lower():
        faults.append(
            f"{_called(element)}: fonts brought by the file are not read; "
            "convert the lettering to outlines"
        )
        return
    for _, target in _URL.findall(text):
        if target.strip() and not target.strip().startswith("#"):
            faults.append(_outside(element, target))


def _character(code: str) -> str:
    point = int(code, 16)
    return chr(point) if 0 < point < 0x110000 else " "


def _outside(element: Any, target: str) -> str:
    kept = target.strip()
    kept = kept if len(kept) <= 60 else kept[:57] + "..."
    return (
        f"{_called(element)}: it refers to '{kept}' outside this file, "
        "and artwork never opens another file or address; put it into the file as shapes"
    )


def _check_path(element: Any, faults: list[str]) -> None:
    try:
        element.set("d", write_out_arcs(element.get("d")))
    except PathDataError as fault:
        faults.append(f"{_called(element)}: its path data cannot be read: {fault}")


def _target(element: Any) -> str:
    return str(element.get("href") or element.get(f"{{{XLINK}}}href") or "").strip().lstrip("#")


def _is_local_use(element: Any) -> bool:
    href = element.get("href") or element.get(f"{{{XLINK}}}href") or "#"
    return _tag(element) == "use" and str(href).strip().startswith("#")


def _check_uses(elements: list[Any], faults: list[str]) -> None:
    """Refuse `use` that includes itself, and includes that multiply beyond the element limit."""
    named = {element.get("id"): element for element in reversed(elements) if element.get("id")}
    size: dict[Any, int] = {}
    open_now: set[Any] = set()

    def measure(element: Any) -> int:
        # Plain recursion: depth is bounded by the nesting limit times the chain of uses below.
        if element in size:
            return size[element]
        if element in open_now or len(open_now) > 4 * _DEEPEST:
            raise RecursionError
        open_now.add(element)
        total = 1 + sum(measure(child) for child in element if isinstance(child.tag, str))
        if _tag(element) == "use" and (target := named.get(_target(element))) is not None:
            total += measure(target)
        open_now.discard(element)
        size[element] = min(total, 10 * _MOST_ELEMENTS)
        return size[element]

    for element in elements:
        if not _is_local_use(element):
            continue
        if named.get(_target(element)) is None:
            faults.append(
                f"{_called(element)}: it uses '#{_target(element)}', which the file does not hold"
            )
            continue
        try:
            if measure(element) > _MOST_ELEMENTS:
                faults.append(
                    f"{_called(element)}: uses inside uses multiply to more than "
                    f"{_MOST_ELEMENTS} elements; simplify the artwork"
                )
        except RecursionError:
            open_now.clear()
            faults.append(f"{_called(element)}: it uses something that uses it in turn")


def _measure(root: Any, *, name: str) -> Page:
    """Find the page's size in px and write it at the root, so that every reader agrees on it."""
    view = _view_box(root, name=name)
    width = _length(root, "width", name=name)
    height = _length(root, "height", name=name)
    mm_per_px: float | None = MM_PER_INCH / PX_PER_INCH
    if width is None and height is None:
        if view is None:
            raise ArtworkError(
                f"{name}: <svg> has neither width and height nor a viewBox, so its page is "
                "unknown; "
                'give it both, for example width="92mm" height="52mm" viewBox="0 0 92 52"'
            )
        mm_per_px = None
        width, height = view
    elif width is None or height is None:
        if view is None:
            raise ArtworkError(f"{name}: <svg> has only one of width and height; give it both")
        if width is None and height is not None:
            width = height * view[0] / view[1]
        elif width is not None:
            height = width * view[1] / view[0]
    assert width is not None
    assert height is not None
    root.set("width", repr(width))
    root.set("height", repr(height))
    return Page(width=width, height=height, mm_per_unit=mm_per_px, kind="SVG")


def _view_box(root: Any, *, name: str) -> tuple[float, float] | None:
    text = root.get("viewBox")
    if text is None:
        return None
    parts = text.replace(",", " ").split()
    try:
        _, _, width, height = (float(part) for part in parts)
    except ValueError:
        raise ArtworkError(f'{name}: viewBox="{text[:40]}" is not four numbers') from None
    if not (0 < width < 1e9 and 0 < height < 1e9):
        raise ArtworkError(
            f'{name}: viewBox="{text[:40]}" has no area; its width and height must be above zero'
        )
    return width, height


def _length(root: Any, key: str, *, name: str) -> float | None:
    """Return a root length in px, None where it is left out or relative to a window."""
    text = root.get(key)
    if text is None or text.strip() in ("", "auto"):
        return None
    match = _LENGTH.match(text)
    if match is None:
        raise ArtworkError(f'{name}: <svg {key}="{text[:40]}"> is no length; write it as "92mm"')
    if match[2] == "%":
        return None
    unit = _PX_PER.get(match[2].lower())
    if unit is None:
        raise ArtworkError(
            f'{name}: <svg {key}="{text[:40]}"> has a unit that depends on the reader; '
            'write it in mm, for example "92mm"'
        )
    value = float(match[1]) * unit
    if not 0 < value < 1e9:
        raise ArtworkError(f'{name}: <svg {key}="{text[:40]}"> must be above zero')
    return value


def _give_ids(elements: list[Any]) -> dict[str, Origin]:
    """Give every element without one an id, and make repeated ids unique."""
    taken = {element.get("id") for element in elements}
    seen: set[str] = set()
    origins: dict[str, Origin] = {}
    of: dict[Any, Origin] = {}
    for number, element in enumerate(elements):
        own = element.get("id") or ""
        parent = of.get(element.getparent())
        classes = tuple((element.get("class") or "").split()) + ((f"#{own}",) if own else ())
        origin = Origin(
            tag=_tag(element),
            ident=own or (parent.ident if parent else ""),
            classes=tuple(dict.fromkeys(classes + (parent.classes if parent else ()))),
        )
        of[element] = origin
        unique = own
        if not own or own in seen:
            unique = f"{_IDENT}{number}"
            while unique in taken:
                unique += "x"
            if element.getparent() is not None:
                element.set("id", unique)
        seen.add(unique)
        origins[unique] = origin
    for element in elements:
        if _tag(element) == "use":
            # The normaliser drops ids inside `use`: what is used lends its own to the use.
            ident = str(element.get("id"))
            lent = origins.get(_target(element))
            if lent is not None:
                both = tuple(dict.fromkeys(origins[ident].classes + lent.classes))
                origins[ident] = replace(origins[ident], classes=both)
    return origins
