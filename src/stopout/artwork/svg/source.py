"""An SVG document made safe: parsed without entities, without outside references, and measured.

Everything that would make a reader open another file or a network address is refused by name, as
is everything whose picture this package could not vouch for (images, embedded pages). What is
left is a document whose every element carries a unique id, with arcs written out (pathdata.py).
"""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from stopout.artwork.fonts.book import FontBook
from stopout.artwork.scale import Page
from stopout.artwork.svg.css.cascade import resolve_styles
from stopout.artwork.svg.css.rules import Tellers
from stopout.artwork.svg.elements import SVG, called, remove, tag_of, target_of
from stopout.artwork.svg.entities import write_out_entities
from stopout.artwork.svg.faults import (
    DEEPEST,
    MOST_ELEMENTS,
    check_attributes,
    check_styles,
    check_uses,
)
from stopout.artwork.svg.lettering.layout import LETTERS, outline_lettering
from stopout.artwork.svg.markers import write_out_markers
from stopout.artwork.svg.pagesize import measure
from stopout.artwork.svg.unheeded import leave_aside
from stopout.errors import ArtworkError

_MOST_BYTES = 50_000_000
_IDENT = "stopout-"
_PLAIN_ID = re.compile(r"[A-Za-z_][A-Za-z0-9_.-]*\Z")
_REFERENCE = re.compile(r"url\(\s*(['\"]?)#(.*?)\1\s*\)")
# Faces that the check rendering has not, or chooses otherwise.
_OWN_FONTS = {
    "this computer's own": "a font of this computer",
    "lacks are set in": "letters of another typeface",
}
_QUARTERS = re.compile(rb"\d[qQ][\"'\s;]")
_ASPECT = re.compile(r"(?:defer\s+)?(none|x(?:Min|Mid|Max)Y(?:Min|Mid|Max))(\s+(?:meet|slice))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceElement:
    """What the file says about one element.

    `ident` is its own id, else the nearest enclosing one. `classes` are its own classes and those
    of the groups around it, and `#id` for every id among itself and the groups around it.
    `path_length` is what the file calls the length of its outline, by which dashes are measured;
    `mask_type` is that of a mask; `keeps_width` is True where its line does not grow with it.
    `letters` are the characters of a path that was text, with their boxes in its own units.
    """

    tag: str
    ident: str
    classes: tuple[str, ...]
    path_length: float | None = None
    mask_type: str = ""
    keeps_width: bool = False
    letters: tuple[tuple[str, float, float, float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SvgSource:
    """A safe document.

    Attributes
    ----------
    svg : bytes
        The document with plain attributes, outlined lettering, unique ids, and its size in px at
        the root.
    given : bytes or None
        The document as it came, for the check rendering; None where the job has it made without
        something that the rendering would show.
    shown : bytes
        The safe document once more, with its lettering as text where the renderer sets it by the
        same rules; for what the rendering of `given` cannot tell.
    page : Page
        Its size in px and the millimetres that a px is by the file's own word.
    origins : dict
        What each unique id stood for in the file.
    has_text, has_round : bool
        Whether `given` holds text, and whether the document holds circles, ellipses or rectangles.
    is_wide : bool
        Whether it holds letters beyond Latin.
    notes : tuple of str
        What was left aside, and what was done instead.
    broken : tuple of str
        What is drawn in part or not at all, since the file breaks off there.
    alone : tuple of str
        What is honoured here and unknown to the check rendering, each with its place.
    effects : tuple of (name, str)
        What was left out, and whether it matters the check rendering shows.
    """

    svg: bytes
    given: bytes | None
    shown: bytes
    page: Page
    origins: dict[str, SourceElement]
    has_text: bool
    has_round: bool
    is_wide: bool
    notes: tuple[str, ...]
    broken: tuple[str, ...]
    alone: tuple[str, ...]
    effects: tuple[tuple[str, str], ...]


def read_source(
    data: bytes, *, fonts: FontBook, name: str, leave_out: Sequence[str] = ()
) -> SvgSource:
    """Parse an SVG document and refuse what is unsafe or cannot be read faithfully.

    `leave_out` names elements and properties that the job has it made without.

    Raises
    ------
    ArtworkError
        All faults of the document together, one line each, each naming element and remedy.
    """
    from lxml import etree

    root = _parse(data, name=name)
    _drop_foreign(root)
    for element in list(_walk(root, name=name)):
        _tidy_aspect(element)
    given = _as_given(root, name=name)
    heard = _Heard(name=name, leave_out=frozenset(leave_out))
    for element in list(_walk(root, name=name)):
        check_styles(element, heard.faults)
    heard.rise()
    resolve_styles(root, heard.tellers)
    leave_aside(root, heard.tellers, heard.effect)
    heard.rise()
    write_out_markers(root, heard.alone_with)
    elements = list(_walk(root, name=name))
    for element in elements:
        check_attributes(element, heard.faults, heard.broken_at)
    check_uses(elements, heard.faults, heard.broken_at)
    heard.rise()
    if _QUARTERS.search(given):
        heard.alone.append("lengths in Q")
    page = measure(root, name=name)
    shown = etree.tostring(root, encoding="utf-8") if _has_plain_text(elements) else None
    if shown is None and (text := next(root.iter(f"{{{SVG}}}text"), None)) is not None:
        heard.alone_with(text, "how its lettering is set")
    told = len(heard.notes)
    outline_lettering(root, fonts, heard.tellers)
    heard.rise()
    for words, what in _OWN_FONTS.items():
        if any(words in line for line in heard.notes[told:]):
            shown = None
            heard.alone.append(what)
    elements = list(_walk(root, name=name))
    origins = _give_ids(elements)
    svg = etree.tostring(root, encoding="utf-8")
    return SvgSource(
        svg=svg,
        given=None if heard.is_without else given,
        shown=svg if shown is None else shown,
        page=page,
        origins=origins,
        has_text=b"<text" in given,
        has_round=any(tag_of(element) in ("circle", "ellipse", "rect") for element in elements),
        is_wide=_WIDE.search(given.decode("utf-8")) is not None or b"Noto" in given,
        notes=tuple(heard.notes),
        broken=tuple(heard.broken),
        alone=tuple(dict.fromkeys(heard.alone)),
        effects=tuple(dict.fromkeys(heard.effects)),
    )


def _as_given(root: Any, *, name: str) -> bytes:
    """Return the document as it came, its size written in px at the root and nothing else."""
    from lxml import etree

    whole = copy.deepcopy(root)
    for key in ("x", "y"):
        whole.attrib.pop(key, None)
    measure(whole, name=name)
    return bytes(etree.tostring(whole, encoding="utf-8"))


class _Heard:
    """Gathers what the steps have to say about a document, each with its element."""

    def __init__(self, *, name: str, leave_out: frozenset[str]) -> None:
        self.name, self.leave_out = name, leave_out
        self.faults: list[str] = []
        self.notes: list[str] = []
        self.broken: list[str] = []
        self.alone: list[str] = []
        self.effects: list[tuple[str, str]] = []
        self.is_without = False
        self.tellers = Tellers(
            note=lambda element, words: self.notes.append(f"{called(element)}: {words}"),
            fault=lambda element, words: self.faults.append(f"{called(element)}: {words}"),
            ask=self.ask,
            alone=self.alone_with,
        )

    def ask(self, element: Any, what: str, words: str) -> None:
        """Refuse what would change the picture, unless the job has it made without."""
        if what in self.leave_out:
            self.is_without = True
            self.notes.append(f"{called(element)}: {words}; it is made without, as the job says")
            return
        self.faults.append(
            f"{called(element)}: {words}; take it out of the file, or have the piece made without "
            f'by artwork.leave_out = ["{what}"]'
        )

    def effect(self, element: Any, what: str, words: str) -> None:
        """Keep what the check rendering judges later."""
        if what in self.leave_out:
            self.is_without = True
            self.notes.append(f"{called(element)}: {words}, as the job says")
        else:
            self.effects.append((what, f"{called(element)}: {words}"))

    def alone_with(self, element: Any, what: str) -> None:
        """Note what the check rendering does not know."""
        self.alone.append(f"{what} ({called(element)})")

    def broken_at(self, element: Any, words: str) -> None:
        """Note of what only a part is drawn."""
        self.broken.append(f"{called(element)}: {words}")

    def rise(self) -> None:
        """Raise what has been found wrong so far."""
        _raise(self.faults, name=self.name)


def _tidy_aspect(element: Any) -> None:
    """Write preserveAspectRatio as all readers know it; what is no value of it counts as unsaid."""
    text = element.get("preserveAspectRatio")
    if text is None:
        return
    match = _ASPECT.fullmatch(text.strip())
    if match is None:
        del element.attrib["preserveAspectRatio"]
    else:
        element.set("preserveAspectRatio", match[1] + (match[2] or ""))


# Letters past the Latin ones.
_WIDE = re.compile("[^\\u0000-\\u024f]")
# Lettering with one of these is set differently by the renderer that checks the import.
_SET_APART = frozenset(
    {"letter-spacing", "word-spacing", "textLength", "text-decoration", "dominant-baseline",
     "alignment-baseline", "baseline-shift", "rotate", "white-space", "font-stretch",
     "font-variant", "font-kerning", "font-feature-settings", "font-variant-caps",
     "font-variant-ligatures", "font-variant-numeric", "text-transform", "writing-mode",
     "direction"}
)  # fmt: skip


def _has_plain_text(elements: list[Any]) -> bool:
    """True where there is lettering, all of it of the plainest kind."""
    has_text = any(tag_of(element) == "text" for element in elements)
    return has_text and not any(
        tag_of(element) == "textPath" or _SET_APART & set(element.attrib) for element in elements
    )


def _raise(faults: list[str], *, name: str) -> None:
    if faults:
        raise ArtworkError("\n".join(f"{name}: {fault}" for fault in dict.fromkeys(faults)))


def _parse(data: bytes, *, name: str) -> Any:
    from lxml import etree

    if len(data) > _MOST_BYTES:
        raise ArtworkError(
            f"{name}: the file has {len(data) / 1e6:.0f} MB; {_MOST_BYTES / 1e6:.0f} MB is the most"
        )
    data = write_out_entities(data, name=name)
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
            f"{name}{line}: this is not well-formed XML: {_in_words(fault.msg)}"
        ) from None
    info = root.getroottree().docinfo
    if info.internalDTD is not None and not _is_plain_doctype(info):
        raise ArtworkError(
            f"{name}: the file's DOCTYPE refers to outside declarations; save it as plain SVG"
        )
    _check_instructions(root, name=name)
    if root.tag not in (f"{{{SVG}}}svg", "svg"):
        raise ArtworkError(f"{name}: the outermost element is <{tag_of(root)}>, not <svg>")
    if root.tag == "svg":
        raise ArtworkError(f'{name}: <svg> lacks its namespace; write <svg xmlns="{SVG}">')
    return root


def _in_words(said: str) -> str:
    """What the XML library says, without its own names for things."""
    said = re.sub(r"\bxml[A-Z]\w*:\s*", "", said.partition(", line")[0])
    if "XML_PARSE_HUGE" in said or "too long" in said.lower() or "huge" in said.lower():
        return "it holds a text of more than 10 MB, or is nested too deeply; part or simplify it"
    known = {"no name": "an '&' stands alone; write it as &amp;", "no element found": "it is empty"}
    words = next((plain for raw, plain in known.items() if raw in said), said)
    return " ".join(words.split()).strip() or "it breaks off"


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
            if space == SVG and tag_of(element) != "metadata":
                continue
        remove(element)


def _walk(root: Any, *, name: str) -> Iterator[Any]:
    stack = [(root, 1)]
    count = 0
    while stack:
        element, depth = stack.pop()
        count += 1
        if depth > DEEPEST:
            raise ArtworkError(
                f"{name}: elements are nested deeper than {DEEPEST} levels; ungroup the artwork"
            )
        if count > MOST_ELEMENTS:
            raise ArtworkError(f"{name}: more than {MOST_ELEMENTS} elements; simplify the artwork")
        yield element
        children = [child for child in element if isinstance(child.tag, str)]
        stack.extend((child, depth + 1) for child in reversed(children))


def _path_length(element: Any) -> float | None:
    try:
        length = float(element.get("pathLength", "nan"))
    except ValueError:
        return None
    return length if 0.0 < length < 1e12 else None


def _refer_anew(elements: list[Any], plain: dict[str, str]) -> None:
    """Point references at the plain ids that stand for those with unusual signs."""
    for element in elements:
        for key, value in element.attrib.items():
            if key.rpartition("}")[2] == "href" and value.strip().startswith("#"):
                wanted = value.strip()[1:]
                element.set(key, f"#{plain.get(wanted, wanted)}")
            elif "url(" in value:
                element.set(
                    key,
                    _REFERENCE.sub(
                        lambda match: f"url(#{plain.get(match[2].strip(), match[2].strip())})",
                        value,
                    ),
                )


def _give_ids(elements: list[Any]) -> dict[str, SourceElement]:
    """Give every element without one an id, and make repeated ids unique."""
    taken = {element.get("id") for element in elements}
    seen: set[str] = set()
    plain: dict[str, str] = {}
    origins: dict[str, SourceElement] = {}
    of: dict[Any, SourceElement] = {}
    for number, element in enumerate(elements):
        own = element.get("id") or ""
        parent = of.get(element.getparent())
        classes = tuple((element.get("class") or "").split()) + ((f"#{own}",) if own else ())
        origin = SourceElement(
            tag=tag_of(element),
            ident=own or (parent.ident if parent else ""),
            classes=tuple(dict.fromkeys(classes + (parent.classes if parent else ()))),
            path_length=_path_length(element),
            mask_type=element.get("mask-type", ""),
            keeps_width=element.attrib.pop("vector-effect", "") == "non-scaling-stroke",
            letters=tuple(
                (str(text), float(x0), float(y0), float(x1), float(y1))
                for text, x0, y0, x1, y1 in json.loads(element.attrib.pop(LETTERS, "[]"))
            ),
        )
        of[element] = origin
        unique = own
        if not own or own in seen or not _PLAIN_ID.match(own):
            unique = f"{_IDENT}{number}"
            while unique in taken:
                unique += "x"
            if element.getparent() is not None:
                element.set("id", unique)
            if own and own not in seen:
                plain[own] = unique
        seen |= {own, unique}
        origins[unique] = origin
    _refer_anew(elements, plain)
    for element in elements:
        if tag_of(element) == "use":
            # The normaliser drops ids inside `use`: what is used lends its own to the use.
            ident = str(element.get("id"))
            lent = origins.get(target_of(element))
            if lent is not None:
                both = tuple(dict.fromkeys(origins[ident].classes + lent.classes))
                origins[ident] = replace(origins[ident], classes=both)
    return origins
