"""What a run of lettering inherits: family, size, weight, spacing, baseline, decoration.

Attributes are those of SVG 2, chapter 11, after the cascade; what cannot be read is told.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from stopout.artwork.svg.css.rules import Tellers
from stopout.artwork.svg.lettering.features import features_of
from stopout.artwork.svg.pagesize import LENGTH, PX_PER

_WEIGHTS = {"normal": 400.0, "bold": 700.0}
_SIZES = {"xx-small": 9.0, "x-small": 10.0, "small": 13.0, "medium": 16.0, "large": 18.0,
          "x-large": 24.0, "xx-large": 32.0}  # fmt: skip
_FEATURED = ("font-kerning", "font-variant", "font-variant-caps", "font-variant-ligatures",
             "font-variant-numeric", "font-feature-settings")  # fmt: skip
Tell = Callable[[Any, str], None]


@dataclass(frozen=True, slots=True)
class TellOnce:
    """Tells each thing of an element once; `fault` and `note` say how grave it is."""

    fault: Tell
    note: Tell
    said: set[tuple[Any, str]] = field(default_factory=set)

    @classmethod
    def by(cls, tell: Tellers) -> TellOnce:
        """As a document's own tellers have it."""
        return cls(tell.fault, tell.note)

    def __call__(self, element: Any, words: str, tell: Tell) -> None:
        if (element, words) not in self.said:
            self.said.add((element, words))
            tell(element, words)


@dataclass(frozen=True, slots=True)
class Style:
    """What a span inherits."""

    families: tuple[str, ...] = ()
    size: float = 16.0
    weight: float = 400.0
    is_italic: bool = False
    spacing: float = 0.0
    word_spacing: float = 0.0
    anchor: str = "start"
    baseline: str = "alphabetic"
    shift: float = 0.0
    keeps_space: bool = False
    lines: tuple[str, ...] = ()
    case: str = "none"
    features: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Styles:
    """Reads what elements say of the lettering in them."""

    tell: TellOnce

    def styled(self, element: Any, above: Style) -> Style:
        got = element.get
        style = above
        if (size := got("font-size")) is not None:
            style = replace(style, size=self.font_size(element, size, above.size))
        if (family := got("font-family")) is not None and family != "inherit":
            names = [name.strip().strip("\"'").strip() for name in family.split(",")]
            style = replace(style, families=tuple(name for name in names if name))
        if (weight := got("font-weight")) is not None:
            style = replace(style, weight=_weight(weight, above.weight))
        if (slant := got("font-style")) is not None:
            style = replace(style, is_italic=slant in ("italic", "oblique"))
        if (anchor := got("text-anchor")) is not None:
            style = replace(style, anchor=anchor)
        if (value := got("letter-spacing")) is not None:
            style = replace(style, spacing=self.gap(element, value, style.size))
        if (value := got("word-spacing")) is not None:
            style = replace(style, word_spacing=self.gap(element, value, style.size))
        if (base := got("dominant-baseline") or got("alignment-baseline")) is not None:
            style = replace(style, baseline=base)
        if (shift := got("baseline-shift")) is not None and shift != "baseline":
            by = {"sub": -0.2, "super": 0.33}.get(shift)
            rise = by * above.size if by is not None else self.length(element, shift, style.size)
            style = replace(style, shift=style.shift + rise)
        space = got("{http://www.w3.org/XML/1998/namespace}space")
        if space is not None or got("white-space") is not None:
            keeps = space == "preserve" or str(got("white-space")).startswith(("pre", "break"))
            style = replace(style, keeps_space=keeps)
        if (lines := got("text-decoration")) is not None:
            style = replace(style, lines=(*above.lines, *lines.split()))
        if str(got("writing-mode", "")).startswith(("tb", "vertical")):
            self.tell(element, "vertical writing is not read; set the lines apart", self.tell.fault)
        if (case := got("text-transform")) is not None and case != "inherit":
            style = replace(style, case=case)
            if case not in ("none", "uppercase", "lowercase", "capitalize"):
                self.tell(element, f"text-transform '{case[:40]}' is not read", self.tell.fault)
        if got("font-stretch", "normal").strip().lower() not in ("normal", "100%", "inherit"):
            self.tell(
                element,
                "font-stretch is not read; name the narrow or wide family itself",
                self.tell.fault,
            )
        return self.featured(element, style)

    def featured(self, element: Any, style: Style) -> Style:
        for key in _FEATURED:
            if (text := element.get(key)) is None or text.strip().lower() == "inherit":
                continue
            found = features_of(key, text)
            if found is None:
                self.tell(element, f"{key} '{text[:40]}' is not read", self.tell.fault)
            else:
                style = replace(style, features=(*style.features, *found))
        return style

    def gap(self, element: Any, text: str, em: float) -> float:
        return 0.0 if text == "normal" else self.length(element, text, em)

    def font_size(self, element: Any, text: str, above: float) -> float:
        if text in _SIZES:
            return _SIZES[text]
        if text in ("smaller", "larger"):
            return above * (1.2 if text == "larger" else 1 / 1.2)
        return self.length(element, text, above, whole=above)

    def length(self, element: Any, text: str, em: float, *, whole: float | None = None) -> float:
        match = LENGTH.match(text)
        unit = match[2].lower() if match else "?"
        if match is None or unit not in PX_PER.keys() | {"em", "rem", "ex", "%"}:
            if text != "inherit":
                self.tell(element, f"'{text[:40]}' is no length that is read", self.tell.fault)
            return em if whole is not None else 0.0
        value = float(match[1])
        if unit == "%":
            return value / 100 * (em if whole is None else whole)
        return value * {"em": em, "ex": em / 2, "rem": 16.0}.get(unit, PX_PER.get(unit, 1.0))


def _weight(text: str, above: float) -> float:
    if text == "bolder":
        return 400.0 if above < 350 else (700.0 if above < 550 else 900.0)
    if text == "lighter":
        return 100.0 if above < 550 else (400.0 if above < 750 else 700.0)
    try:
        return min(1000.0, max(1.0, float(text)))
    except ValueError:
        return _WEIGHTS.get(text, above)
