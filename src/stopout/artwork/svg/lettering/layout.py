"""Lettering into outlines: each `text` becomes a group of paths, laid out as SVG 2 says.

Chapter 11 of SVG 2 is followed for what sign and plate lettering uses: runs of several styles,
lists of positions and turns, anchors, letter and word spacing, `textLength`, baselines,
decoration lines, and text on a path. What is left aside is told.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from itertools import zip_longest
from math import cos, radians, sin
from typing import Any

from stopout.artwork.fonts.book import Face, FontBook
from stopout.artwork.fonts.shaping import Glyph, Metrics, has_letter, metrics, outline, shape
from stopout.artwork.regions.curves import Affine
from stopout.artwork.svg.css.rules import Tellers
from stopout.artwork.svg.elements import SVG, XLINK, href_of, tag_of
from stopout.artwork.svg.lettering.along import Along
from stopout.artwork.svg.lettering.faces import Faces
from stopout.artwork.svg.lettering.features import is_mixed, transformed
from stopout.artwork.svg.lettering.style import Style, Styles, TellOnce
from stopout.artwork.svg.pathdata import NUMBER

# Carries the characters of a path and their boxes on to whoever reads the document.
LETTERS = "data-stopout-letters"
_SPANS = frozenset({"text", "tspan", "textPath", "a"})
_OWN = ("x", "y", "dx", "dy", "rotate", "textLength", "lengthAdjust", "startOffset", "href",
        f"{{{XLINK}}}href", "method", "spacing", "side")  # fmt: skip
_MOST_CHARACTERS = 20_000


@dataclass(slots=True)
class _Char:
    """A character that is drawn, with what positions it."""

    text: str
    span: Any
    style: Style
    x: float | None = None
    y: float | None = None
    dx: float = 0.0
    dy: float = 0.0
    turn: float | None = None
    along: Any = None


@dataclass(slots=True)
class _Placed:
    """A glyph on its way to its place: pen position in user units, y down."""

    glyph: Glyph
    char: _Char
    face: Face
    x: float
    y: float
    advance: float
    stretch: float = 1.0


def outline_lettering(root: Any, fonts: FontBook, tell: Tellers) -> None:
    """Replace every `text` of a document by outlines, in place.

    Parameters
    ----------
    root : lxml element
        A document whose styles have been resolved to attributes.
    fonts : FontBook
        What families are at hand.
    tell : Tellers
        Called for what cannot be drawn, and for what was left aside.
    """
    named: dict[str, Any] = {}
    for item in root.iter():
        item.attrib.pop(LETTERS, None)
        if isinstance(item.tag, str) and item.get("id"):
            named.setdefault(str(item.get("id")), item)
    view = _view(root)
    for text in list(root.iter(f"{{{SVG}}}text")):
        _Layout(text, fonts, named, view, tell).run()


def _view(root: Any) -> tuple[float, float]:
    parts = (root.get("viewBox") or "").replace(",", " ").split()
    try:
        return float(parts[2]), float(parts[3])
    except (IndexError, ValueError):
        return 100.0, 100.0


class _Layout:
    """Lays out one text element."""

    def __init__(
        self,
        text: Any,
        fonts: FontBook,
        named: dict[str, Any],
        view: tuple[float, float],
        tell: Tellers,
    ) -> None:
        self.text, self.named, self.view = text, named, view
        self.tell = TellOnce.by(tell)
        self.style, self.faces = Styles(self.tell), Faces(fonts, self.tell)
        self.fault, self.note = tell.fault, tell.note
        self.chars: list[_Char] = []
        self.styles: dict[Any, Style] = {}
        self.drawn: dict[int, list[str]] = {}
        self.ruled: dict[int, list[str]] = {}
        self.reach: dict[Any, tuple[int, int]] = {}
        self.is_broken = False
        self.pen = (0.0, 0.0)

    def run(self) -> None:
        style = Style()
        for above in reversed(list(self.text.iterancestors())):
            style = self.style.styled(above, style)
        self.walk(self.text, style, None)
        if self.is_broken:
            return
        if self.chars and not self.chars[-1].style.keeps_space and self.chars[-1].text == " ":
            self.chars.pop()
        self.position(self.text)
        chunks = list(self.chunks())
        for chunk, later in zip_longest(chunks, chunks[1:]):
            if heard := _without_idle_space(chunk, later):
                self.lay(heard)
        self.rewrite(self.text)

    # -- characters and styles ------------------------------------------------------------------

    def walk(self, element: Any, above: Style, along: Any) -> None:
        style = self.style.styled(element, above)
        self.styles[element] = style
        self.reach[element] = (len(self.chars), len(self.chars))
        if element.get("display") == "none" or self.is_broken:
            return
        if tag_of(element) == "textPath":
            along = self.path_of(element)
            if along is None:
                return
        first = len(self.chars)
        self.add(element.text or "", element, style, along)
        for child in element:
            if not isinstance(child.tag, str):
                continue
            if tag_of(child) in _SPANS:
                self.walk(child, style, along)
            elif tag_of(child) not in ("title", "desc", "animate", "set", "animateTransform"):
                self.tell(child, "is left out of the lettering", self.note)
            self.add(child.tail or "", element, style, along)
        self.reach[element] = (first, len(self.chars))

    def add(self, text: str, span: Any, style: Style, along: Any) -> None:
        for given in text:
            sign = " " if given in "\n\r\t" else given
            last = self.chars[-1] if self.chars else None
            sign = transformed(sign, last.text if last else None, style.case)
            if sign == " " and not style.keeps_space and (last is None or last.text == " "):
                continue
            if len(self.chars) >= _MOST_CHARACTERS:
                if not self.is_broken:
                    words = f"has more than {_MOST_CHARACTERS} characters; part it, or outline it"
                    self.tell(span, words, self.fault)
                self.is_broken = True
                return
            # One letter may become two, as the sharp s does.
            self.chars += [_Char(one, span, style, along=along) for one in sign]

    def inside(self, element: Any) -> list[_Char]:
        """The characters of a span and of the spans in it: a run of the text's own."""
        first, last = self.reach.get(element, (0, 0))
        return self.chars[first:last]

    def position(self, element: Any) -> None:
        """Give characters the x, y, dx, dy and rotate of the spans that they are in."""
        inside = self.inside(element)
        em = self.styles[element].size if element in self.styles else 16.0
        for key in ("x", "y", "dx", "dy"):
            if tag_of(element) == "textPath" and key in ("x", "y"):
                continue
            whole = self.view[0 if key in ("x", "dx") else 1]
            words = (element.get(key) or "").replace(",", " ").split()
            for char, word in zip(inside, words, strict=False):
                size = whole if word.endswith("%") else em
                setattr(char, key, self.style.length(element, word, size))
        turns = (element.get("rotate") or "").replace(",", " ").split()
        for place, char in enumerate(inside if turns else []):
            char.turn = self.style.length(element, turns[min(place, len(turns) - 1)], em)
        for child in element:
            if isinstance(child.tag, str) and tag_of(child) in _SPANS:
                self.position(child)

    # -- layout ---------------------------------------------------------------------------------

    def chunks(self) -> list[list[_Char]]:
        """Characters between absolute positions: what an anchor shifts as one."""
        found: list[list[_Char]] = []
        last = None
        for place, char in enumerate(self.chars):
            if place == 0 or char.x is not None or char.y is not None or char.along is not last:
                found.append([])
            last = char.along
            found[-1].append(char)
        return found

    def lay(self, chunk: list[_Char]) -> None:
        first = chunk[0]
        x = self.pen[0] if first.x is None else first.x
        y = self.pen[1] if first.y is None else first.y
        if first.along is not None:
            x, y = 0.0, 0.0
        placed: list[_Placed] = []
        for run in _runs(chunk):
            x, y = x + run[0].dx, y + run[0].dy
            for item in self.shaped(run):
                item.x, item.y = x, y
                x += item.advance
                placed.append(item)
        x = self.adjust(placed, x)
        start = 0.0 if first.x is None and first.along is None else first.x or 0.0
        start = self.pen[0] if first.x is None and first.along is None else start
        share = {"middle": 0.5, "end": 1.0}.get(first.style.anchor, 0.0)
        for item in placed:
            item.x -= share * (x - start)
        if first.along is None:
            self.pen = (x - share * (x - start), y)
            self.draw_lines(placed)
        for item in placed:
            self.draw(item)

    def shaped(self, run: list[_Char]) -> list[_Placed]:
        style, span = run[0].style, run[0].span
        face = self.faces.face(span, style)
        if face is None:
            return []
        text = "".join(char.text for char in run)
        if is_mixed(text):
            words = "words of both writing directions stand in one line; convert them to outlines"
            self.tell(span, words, self.fault)
        self.faces.check_small_capitals(text, face, style, span)
        found: list[_Placed] = []
        for first, last, own in self.faces.parted(text, face, style, span):
            found += self.set_in(run[first:last], own, style, span)
        return found

    def set_in(self, run: list[_Char], face: Face, style: Style, span: Any) -> list[_Placed]:
        found: list[_Placed] = []
        text = "".join(char.text for char in run)
        lost = dict.fromkeys(s for s in text if not (s.isspace() or has_letter(face, s)))
        if lost:
            self.tell(
                span,
                f"holds characters that no font at hand has ('{''.join(lost)}'); name a font's "
                "file in artwork.fonts, or convert the lettering to outlines",
                self.fault,
            )
            return found
        with_ligatures = style.spacing == 0.0
        for glyph in shape(
            text, face, style.weight, with_ligatures=with_ligatures, features=style.features
        ):
            char = run[glyph.cluster]
            if glyph.number == 0:
                continue
            advance = glyph.advance * style.size + style.spacing
            advance += style.word_spacing if char.text == " " else 0.0
            found.append(_Placed(glyph, char, face, 0.0, 0.0, advance))
        return found

    def adjust(self, placed: list[_Placed], end: float) -> float:
        """Meet `textLength` of the text and of its spans, the inner ones first (SVG 2, 11.5)."""
        spans: dict[Any, int] = {}
        for item in placed:
            span = item.char.span
            while span is not None:
                if span.get("textLength") is not None:
                    spans[span] = len(list(span.iterancestors()))
                span = None if span is self.text else span.getparent()
        for span in sorted(spans, key=lambda item: -spans[item]):
            end = self.stretched(span, placed, end)
        return end

    def stretched(self, span: Any, placed: list[_Placed], end: float) -> float:
        """Bring the letters of one span to the length it asks for; returns where the text ends."""
        inside = [item for item in placed if _is_within(item.char.span, span)]
        wanted = self.style.length(span, span.get("textLength"), self.view[0])
        start, stop = inside[0].x, inside[-1].x + inside[-1].advance
        if wanted <= 0 or stop <= start:
            return end
        after = placed[placed.index(inside[-1]) + 1 :]
        if span.get("lengthAdjust") == "spacingAndGlyphs":
            factor = wanted / (stop - start)
            for item in inside:
                item.x = start + (item.x - start) * factor
                item.advance *= factor
                item.stretch *= factor
        gap = 0.0
        if span.get("lengthAdjust") != "spacingAndGlyphs" and len(inside) > 1:
            gap = (wanted - (stop - start)) / (len(inside) - 1)
            for number, item in enumerate(inside):
                item.x += number * gap
        # By the letter of the algorithm the gap also stands between the span and what follows it.
        more = wanted - (stop - start) + (gap if after else 0.0)
        for item in after:
            item.x += more
        return end + more

    # -- drawing --------------------------------------------------------------------------------

    def draw(self, item: _Placed) -> None:
        char, style = item.char, item.char.style
        em = style.size
        rise = self.rise(item.face, style)
        x, y, turn = item.x, item.y, char.turn or 0.0
        down = 0.0
        if char.along is not None:
            spot = char.along.at(x + item.advance / 2)
            if spot is None:
                self.tell(char.span, "is longer than its path; what runs over is left out",
                          self.note)  # fmt: skip
                return
            point, slope = spot
            down = y
            x, y = point.real, point.imag
            turn += slope
        back = -item.advance / 2 if char.along is not None else 0.0
        c, s = cos(radians(turn)), sin(radians(turn))
        u = back + item.glyph.x_offset * em * item.stretch
        v = down - rise - item.glyph.y_offset * em
        place = Affine(
            c * em * item.stretch, s * em * item.stretch, s * em, -c * em,
            x + c * u - s * v, y + s * u + c * v,
        )  # fmt: skip
        data = outline(item.face, style.weight, item.glyph.number, place)
        self.drawn.setdefault(id(char), []).append(data)

    def rise(self, face: Face, style: Style) -> float:
        """How far above the given line the font's own base line lies."""
        if style.baseline in ("alphabetic", "auto", "baseline", "inherit"):
            return style.shift
        found: Metrics = metrics(face, style.weight)
        by = {
            "middle": found.x_height / 2,
            "central": (found.ascent + found.descent) / 2,
            "hanging": 0.8 * found.ascent,
            "text-before-edge": found.ascent,
            "text-top": found.ascent,
            "text-after-edge": found.descent,
            "text-bottom": found.descent,
            "ideographic": found.descent,
            "mathematical": found.ascent / 2,
        }.get(style.baseline, 0.0)
        return style.shift - by * style.size

    def draw_lines(self, placed: list[_Placed]) -> None:
        for item in placed:
            style = item.char.style
            if not style.lines:
                continue
            found = metrics(item.face, style.weight)
            for line in style.lines:
                # Thickness and height are left to the reader by CSS Text Decoration 3; these are
                # what browsers do: a tenth of the size, half of that below the foot, a strike at a
                # third of the ascent.
                thick = style.size / 10
                if line == "underline":
                    above = -thick / 2
                elif line == "line-through":
                    above = found.ascent / 3 * style.size + thick / 2
                elif line == "overline":
                    above = found.ascent * style.size + thick
                else:
                    continue
                top = item.y - self.rise(item.face, style) - above
                x0, x1 = item.x, item.x + item.advance
                y1 = top + thick
                data = f"M{x0!r} {top!r}L{x1!r} {top!r}L{x1!r} {y1!r}L{x0!r} {y1!r}Z"
                self.ruled.setdefault(id(item.char), []).append(data)

    def rewrite(self, element: Any) -> None:
        """Turn spans into groups, and their characters into paths in the same order."""
        children = [child for child in element if isinstance(child.tag, str)]
        for child in list(element):
            if child not in children or tag_of(child) not in _SPANS:
                element.remove(child)
        # The characters of a span lie before, between and after its child spans.
        pieces: list[list[_Char]] = []
        at, end = self.reach.get(element, (0, 0))
        for child in element:
            first, last = self.reach.get(child, (at, at))
            pieces.append(self.chars[at : max(at, first)])
            at = max(at, last)
        pieces.append(self.chars[at:end])
        element.text = None
        for place, child in reversed(list(enumerate(list(element)))):
            child.tail = None
            for path in reversed(self.paths(pieces[place + 1])):
                child.addnext(path)
        for path in reversed(self.paths(pieces[0])):
            element.insert(0, path)
        for child in children:
            if child.getparent() is element and tag_of(child) in _SPANS:
                self.rewrite(child)
        element.tag = f"{{{SVG}}}g"
        for key in _OWN:
            element.attrib.pop(key, None)

    def paths(self, chars: list[_Char]) -> list[Any]:
        """Underlines below the glyphs, as they are painted; each kind fills by itself."""
        from lxml import etree

        found = []
        for data in (self.ruled, self.drawn):
            text = "".join("".join(data.get(id(char), ())) for char in chars)
            if text:
                path = etree.Element(f"{{{SVG}}}path")
                path.set("d", text)
                if data is self.drawn:
                    path.set(LETTERS, json.dumps(self.letters(chars)))
                found.append(path)
        return found

    def letters(self, chars: list[_Char]) -> list[tuple[str, float, float, float, float]]:
        """Each character with the box of its outline's corners, in user units; spaces follow."""
        found: list[tuple[str, float, float, float, float]] = []
        for char in chars:
            numbers = [float(n) for n in NUMBER.findall("".join(self.drawn.get(id(char), ())))]
            if len(numbers) >= 2:
                x, y = numbers[0::2], numbers[1::2]
                found.append((char.text, min(x), min(y), max(x), max(y)))
            elif found and char.text == " ":
                found[-1] = (f"{found[-1][0]} ", *found[-1][1:])
        return found

    def path_of(self, element: Any) -> Along | None:
        """The path under a `textPath`, with its start."""
        target = href_of(element)
        path = self.named.get(target.lstrip("#"))
        if path is None or tag_of(path) != "path" or not path.get("d"):
            self.tell(element, f"its path '{target[:40]}' is no path of this file", self.fault)
            return None
        try:
            along = Along(path.get("d"), path.get("transform"))
        except ValueError as wrong:
            self.tell(element, f"its path cannot be read: {wrong}", self.fault)
            return None
        offset = element.get("startOffset") or "0"
        own = float(path.get("pathLength") or along.length) or along.length
        whole = along.length if offset.strip().endswith("%") else 16.0
        start = self.style.length(element, offset, whole)
        along.start = start if offset.strip().endswith("%") else start * along.length / own
        return along


def _without_idle_space(chunk: list[_Char], later: list[_Char] | None) -> list[_Char]:
    """Leave out space of no named font at a chunk's end where its width moves no letter."""
    if later and (later[0].x is None or later[0].y is None):
        return chunk
    last = len(chunk)
    while last and chunk[last - 1].text.isspace():
        style = chunk[last - 1].style
        if style.families or style.anchor in ("middle", "end"):
            break
        last -= 1
    return chunk[:last]


def _runs(chunk: list[_Char]) -> list[list[_Char]]:
    """Characters that are shaped together: of one span, without a shift between them."""
    runs: list[list[_Char]] = []
    for place, char in enumerate(chunk):
        if place == 0 or char.span is not chunk[place - 1].span or char.dx or char.dy:
            runs.append([])
        runs[-1].append(char)
    return runs


def _is_within(element: Any, outer: Any) -> bool:
    while element is not None:
        if element is outer:
            return True
        element = element.getparent()
    return False
