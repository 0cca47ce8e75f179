"""What makes an SVG document unsafe, or not to be read faithfully: element by element, in words."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from stopout.artwork.svg.elements import called, href_of, tag_of, target_of
from stopout.artwork.svg.pagesize import LENGTH, PX_PER
from stopout.artwork.svg.pathdata import NUMBER, PathDataError, write_out_arcs

MOST_ELEMENTS = 200_000
DEEPEST = 200
Note = Callable[[Any, str], None]
_DRAWN = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "text"})
_URL = re.compile(r"url\(\s*(['\"]?)\s*([^'\")]*)", re.IGNORECASE)
_FONT_FACE = re.compile(r"@font-face\s*\{[^{}]*\}", re.IGNORECASE)
_ESCAPE = re.compile(r"\\([0-9a-fA-F]{1,6})\s?")
_NOT_A_NUMBER = re.compile(r"(?<![\w#-])[+-]?(?:nan|inf|infinity)(?![\w-])", re.IGNORECASE)
_LENGTHS = frozenset({"x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry", "dx", "dy",
                      "width", "height", "stroke-width", "stroke-dashoffset"})  # fmt: skip
_NUMBERS = _LENGTHS | {"points", "transform", "viewBox", "stroke-dasharray", "stroke-miterlimit",
                       "font-size"}  # fmt: skip


def check_styles(element: Any, faults: list[str]) -> None:
    """Check style sheets and style attributes as written, before they are resolved."""
    if tag_of(element) == "style":
        _check_style(element, element.text or "", faults)
    if element.get("style"):
        _check_style(element, element.get("style"), faults)


def check_attributes(element: Any, faults: list[str], note: Note) -> None:
    """Check every attribute, once styles are resolved; arcs of a path are written out.

    `note` is told of a path that breaks off, of which only the beginning is drawn.
    """
    tag = tag_of(element)
    for key, value in list(element.attrib.items()):
        _check_attribute(element, key, value, faults)
    if tag == "path" and element.get("d") is not None:
        _check_path(element, faults, note)
    elif tag in ("polygon", "polyline"):
        _check_points(element, faults, note)


def _check_attribute(element: Any, key: str, value: str, faults: list[str]) -> None:
    plain = key.rpartition("}")[2]
    if plain == "href" and not value.strip().startswith("#"):
        if tag_of(element) == "a":
            # A link that a reader might follow: nothing is loaded from it.
            del element.attrib[key]
        elif value.strip():
            faults.append(_outside(element, value))
    elif key == "{http://www.w3.org/XML/1998/namespace}base":
        faults.append(f"{called(element)}: xml:base is not read; remove it")
    elif plain in _NUMBERS and _NOT_A_NUMBER.search(value):
        faults.append(
            f'{called(element)}: {plain}="{value[:40]}" holds something that is no number'
        )
    elif plain in _LENGTHS and "}" not in key:
        _check_lengths(element, plain, value, faults)
    else:
        _check_style(element, value, faults)


def _check_lengths(element: Any, key: str, value: str, faults: list[str]) -> None:
    """Check the lengths of a drawn element, which the normaliser would leave out if unreadable."""
    if tag_of(element) not in _DRAWN | {"use", "svg", "tspan"} or element.getparent() is None:
        return
    parts = value.replace(",", " ").split()
    for part in parts if parts else [""]:
        match = LENGTH.match(part)
        unit = match[2].lower() if match else "?"
        if match is None and part in ("auto", "none"):
            continue
        if match is None or unit not in PX_PER.keys() | {"%", "em", "ex"}:
            faults.append(
                f'{called(element)}: {key}="{value[:40]}" is no length that is read; '
                "give a plain number or mm"
            )
            return
    if len(parts) == 1 and unit == "q" and match:
        # A quarter millimetre is a unit of CSS that the normaliser does not know.
        element.set(key, repr(float(match[1]) * PX_PER["q"]))


def _check_style(element: Any, text: str, faults: list[str]) -> None:
    if "(" not in text and "@" not in text and "\\" not in text:
        return
    text = _ESCAPE.sub(lambda match: _character(match[1]), text)
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
    if "@import" in text.lower():
        faults.append(f"{called(element)}: @import loads another file; put the styles here")
        return
    # A font that the file brings is never loaded; the style resolver tells that it was left aside.
    text = _FONT_FACE.sub(" ", text)
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
        f"{called(element)}: it refers to '{kept}' outside this file, "
        "and artwork never opens another file or address; put it into the file as shapes"
    )


def _check_path(element: Any, faults: list[str], note: Note) -> None:
    """Write out arcs; of data that break off, what comes before is drawn, as every viewer does."""
    data = element.get("d")
    try:
        element.set("d", write_out_arcs("" if data.strip() == "none" else data))
    except PathDataError as fault:
        if not fault.before:
            faults.append(f"{called(element)}: its path data cannot be read: {fault}")
            return
        element.set("d", write_out_arcs(fault.before))
        note(element, f"its path data break off: {fault}; only what comes before is drawn")


def _check_points(element: Any, faults: list[str], note: Note) -> None:
    """Refuse points of which one viewer draws some and another none; tell of an odd number."""
    points = element.get("points", "")
    if left := NUMBER.sub(" ", points).replace(",", " ").split():
        faults.append(f"{called(element)}: its points hold '{left[0][:20]}', which is no number")
    elif len(NUMBER.findall(points)) % 2:
        note(element, "its points break off after an x without a y; that one is not drawn")


def _is_local_use(element: Any) -> bool:
    return tag_of(element) == "use" and (href_of(element) or "#").startswith("#")


def check_uses(elements: list[Any], faults: list[str], note: Note) -> None:
    """Refuse `use` that includes itself, and includes that multiply beyond the element limit.

    `note` is told of one that names nothing, for which nothing is drawn (SVG 2, section 5.5).
    """
    named = {element.get("id"): element for element in reversed(elements) if element.get("id")}
    size: dict[Any, int] = {}
    open_now: set[Any] = set()

    def measure(element: Any) -> int:
        # Plain recursion: depth is bounded by the nesting limit times the chain of uses below.
        if element in size:
            return size[element]
        if element in open_now or len(open_now) > 4 * DEEPEST:
            raise RecursionError
        open_now.add(element)
        total = 1 + sum(measure(child) for child in element if isinstance(child.tag, str))
        if tag_of(element) == "use" and (target := named.get(target_of(element))) is not None:
            total += measure(target)
        open_now.discard(element)
        size[element] = min(total, 10 * MOST_ELEMENTS)
        return size[element]

    for element in elements:
        if not _is_local_use(element):
            continue
        if named.get(target_of(element)) is None:
            words = f"it uses '#{target_of(element)[:40]}', which the file does not hold"
            note(element, f"{words}; nothing is drawn for it")
            continue
        try:
            if measure(element) > MOST_ELEMENTS:
                faults.append(
                    f"{called(element)}: uses inside uses multiply to more than "
                    f"{MOST_ELEMENTS} elements; simplify the artwork"
                )
        except RecursionError:
            open_now.clear()
            faults.append(f"{called(element)}: it uses something that uses it in turn")
