"""Which typeface a run of lettering is set in, and what of it another has to lend."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Any

from stopout.artwork.fonts.book import Face, FontBook, wide_faces
from stopout.artwork.fonts.shaping import has_letter, shape
from stopout.artwork.svg.lettering.features import is_turned
from stopout.artwork.svg.lettering.style import Style, TellOnce

# Names that leave the choice of a family open (CSS Fonts 4, section 2.1).
_GENERIC = frozenset({"serif", "sans-serif", "monospace", "cursive", "fantasy"})
_SMALL = frozenset({"smcp", "c2sc", "pcap", "c2pc", "unic"})


@dataclass(frozen=True, slots=True)
class Faces:
    """Chooses faces of a book; what is taken in place of what was asked for is told."""

    fonts: FontBook
    tell: TellOnce

    def face(self, span: Any, style: Style) -> Face | None:
        for place, family in enumerate(style.families):
            face, is_installed = self.fonts.find(family, style.weight, is_italic=style.is_italic)
            if face is None:
                continue
            if place > 0:
                self.tell(
                    span,
                    f"font family '{style.families[0]}' is not available; '{family}', its second "
                    "choice, was taken",
                    self.tell.note,
                )
            if is_installed:
                self.tell(
                    span,
                    f"font family '{family}' is this computer's own; another may draw it "
                    "differently: name its file in artwork.fonts",
                    self.tell.note,
                )
            return face
        if any(family.lower() in _GENERIC for family in style.families):
            return self.any_face(span, style)
        asked = " and ".join(f"'{family}'" for family in style.families)
        what = f"font family {asked} is not available" if asked else "the lettering names no font"
        at_hand = ", ".join(self.fonts.families)
        self.tell(
            span,
            f"{what} (at hand: {at_hand}); name its file in artwork.fonts, or convert the "
            "lettering to outlines",
            self.tell.fault,
        )
        return None

    def any_face(self, span: Any, style: Style) -> Face | None:
        """The face at hand for lettering that leaves the choice of its family open."""
        family = self.fonts.families[0]
        face, _ = self.fonts.find(family, style.weight, is_italic=style.is_italic)
        asked = ", ".join(f"'{name}'" for name in style.families)
        self.tell(
            span,
            f"the lettering asks for {asked}; '{family}' was taken, whose letters look different "
            "and may be wider: name a font's file in artwork.fonts, or convert to outlines",
            self.tell.note,
        )
        return face

    def parted(self, text: str, face: Face, style: Style, span: Any) -> list[tuple[int, int, Face]]:
        """Part a run where another typeface has letters that its own lacks (CSS Fonts 4, 5.3)."""
        parts: list[tuple[int, int, Face]] = []
        for place, sign in enumerate(text):
            own = parts[-1][2] if parts else face
            before = text[place - 1] if place else ""
            # A mark stays with its letter, and a blank with words from right to left.
            stays = unicodedata.combining(sign) or (sign.isspace() and is_turned(before))
            if not stays:
                own = face if has_letter(face, sign) else self.other_face(sign, face, style, span)
            if parts and parts[-1][2] is own:
                parts[-1] = (parts[-1][0], place + 1, own)
            else:
                parts.append((place, place + 1, own))
        return parts

    def other_face(self, sign: str, face: Face, style: Style, span: Any) -> Face:
        asked = [self.fonts.find(family, style.weight, is_italic=style.is_italic)[0]
                 for family in style.families[1:]]  # fmt: skip
        for other in (*asked, *wide_faces()):
            if other is not None and has_letter(other, sign):
                words = f"letters that '{face.family}' lacks are set in '{other.family}'"
                if not other.weight[0] <= style.weight <= other.weight[1]:
                    words += ", in its one weight"
                self.tell(span, words, self.tell.note)
                return other
        return face

    def check_small_capitals(self, text: str, face: Face, style: Style, span: Any) -> None:
        """Refuse small capitals of a font that has none: readers shrink capitals as they please."""
        small = [item for item in style.features if item[0] in _SMALL and item[1]]
        if not small or not any(sign.islower() for sign in text):
            return
        rest = [item for item in style.features if item not in small]
        plain, wanted = (
            [glyph.number for glyph in shape(text, face, style.weight, with_ligatures=False,
                                             features=features)]
            for features in (rest, style.features)
        )  # fmt: skip
        if plain == wanted:
            words = "asks for small capitals, which its font lacks; set capitals of a smaller size"
            self.tell(span, words, self.tell.fault)
