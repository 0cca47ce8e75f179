"""The typeface of the pictures, and how wide a text sets in it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from stopout.typefaces import wide_files

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

FAMILY = "Barlow"
_WEIGHTS = {400: "Regular", 600: "SemiBold"}


@cache
def font_files() -> tuple[str, ...]:
    """Paths of the font files to hand to the renderer, which drops text silently without them.

    Raises
    ------
    FileNotFoundError
        If the installed font package lacks one of them.
    """
    import fontpkg_barlow

    folder = Path(fontpkg_barlow.__file__).parent / "files"
    files = [folder / f"{FAMILY}-{name}.ttf" for name in _WEIGHTS.values()]
    for file in files:
        if not file.is_file():
            raise FileNotFoundError(f"the font file {file.name} is missing from fontpkg-barlow")
    return (*(str(file) for file in files), *(str(file) for file in wide_files()))


def text_width(text: str, *, size: float, weight: int = 400) -> float:
    """Width of a text in the units of `size`, without kerning: at most 3 % too wide."""
    return sum(_advance(letter, weight) for letter in text) * size


def wrapped(text: str, *, width: float, size: float, weight: int = 400) -> list[str]:
    """Break a text at blanks into lines no wider than `width`; a single long word may be."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size=size, weight=weight) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


@cache
def _advance(letter: str, weight: int) -> float:
    """Advance of one letter over the type size."""
    if letter.isascii():
        return float(_font(weight).getlength(letter)) / 100.0
    # A letter that the family lacks is set in the next typeface that has it.
    return max(float(font.getlength(letter)) for font in (_font(weight), *_wide())) / 100.0


@cache
def _wide() -> tuple[FreeTypeFont, ...]:
    from PIL import ImageFont

    return tuple(
        ImageFont.truetype(str(file), 100, layout_engine=ImageFont.Layout.BASIC)
        for file in wide_files()
    )


@cache
def _font(weight: int) -> FreeTypeFont:
    from PIL import ImageFont

    file = font_files()[list(_WEIGHTS).index(weight)]
    return ImageFont.truetype(file, 100, layout_engine=ImageFont.Layout.BASIC)
