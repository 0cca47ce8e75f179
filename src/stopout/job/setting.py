"""What a job sets by itself, without a drawing: words, rules, frames and codes, as asked for.

Lengths in mm as seen, origin at the blank's lower left, y up; turns in degrees against the clock.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from stopout.job.fields import filled

Anchor = Literal["top left", "top", "top right", "left", "centre", "right", "bottom left",
                 "bottom", "bottom right"]  # fmt: skip
Align = Literal["left", "centre", "right"]
CodeKind = Literal["qr", "data-matrix", "code-128"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """A circle about the text's place. `side` is where the letters lie, `line` what touches it.

    Letters outside with their base line on it, and letters inside with their cap line on it, read
    over the top, with the clock; the other two read under the bottom, against it.
    """

    radius_mm: float
    side: Literal["outside", "inside"] = "outside"
    line: Literal["base", "cap"] = "base"

    @property
    def reads_over(self) -> bool:
        """True where the letters' heads point away from the centre."""
        return (self.side == "outside") == (self.line == "base")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A width that lines keep to, by smaller letters, by their spacing, or by their own width.

    `least_mm` is the cap height that `shrink` does not go below.
    """

    width_mm: float
    way: Literal["shrink", "space", "stretch"] = "shrink"
    least_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetText:
    """Words. `becomes` is recessed, raised or a coat's colour; None: what the artwork's dark does.

    `at_mm` is where the anchor of the block lies, None for the middle of the blank; the block
    reaches from the first line's cap line to the last line's base line. On an arc it is the
    centre of the circle. `line_space_mm` is from base line to base line, None for the font's own.
    """

    words: str
    cap_height_mm: float
    font: str = "Barlow"
    at_mm: tuple[float, float] | None = None
    anchor: Anchor = "centre"
    align: Align | None = None
    letter_space_mm: float = 0.0
    line_space_mm: float | None = None
    turn_deg: float = 0.0
    arc: Arc | None = None
    fit: Fit | None = None
    becomes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLine:
    """A straight rule with square ends."""

    from_mm: tuple[float, float]
    to_mm: tuple[float, float]
    width_mm: float
    becomes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetFrame:
    """A rectangle: `width_mm` of line within its outer edge, None for a full panel.

    `at_mm` is its lower left corner and `size_mm` its size; where they are left out it stands
    `margin_mm` inside the blank's edges.
    """

    width_mm: float | None = None
    margin_mm: float | None = None
    at_mm: tuple[float, float] | None = None
    size_mm: tuple[float, float] | None = None
    corner: Literal["square", "round", "cut", "scooped"] = "square"
    corner_mm: float = 0.0
    becomes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetCode:
    """A code for machines to read; `module_mm` is the side of its smallest square or bar."""

    content: str
    kind: CodeKind = "qr"
    module_mm: float = 0.5
    height_mm: float | None = None
    at_mm: tuple[float, float] | None = None
    anchor: Anchor = "centre"
    becomes: str | None = None


Element = SetText | SetLine | SetFrame | SetCode


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """All that a job sets, frames and rules below words and codes."""

    texts: tuple[SetText, ...] = ()
    lines: tuple[SetLine, ...] = ()
    frames: tuple[SetFrame, ...] = ()
    codes: tuple[SetCode, ...] = ()

    def __bool__(self) -> bool:
        """True where anything is set."""
        return any((self.texts, self.lines, self.frames, self.codes))

    def placed(self) -> Iterator[tuple[str, int, Element]]:
        """Give each element with the name of its table and its place there, undermost first."""
        tables: tuple[tuple[str, tuple[Element, ...]], ...] = (
            ("frame", self.frames),
            ("line", self.lines),
            ("text", self.texts),
            ("code", self.codes),
        )
        for table, items in tables:
            for number, item in enumerate(items):
                yield table, number, item

    def filled(self, fields: dict[str, str]) -> Setting:
        """Put a row's fields for their names in braces."""
        return replace(
            self,
            texts=tuple(replace(t, words=filled(t.words, fields)) for t in self.texts),
            codes=tuple(replace(c, content=filled(c.content, fields)) for c in self.codes),
        )
