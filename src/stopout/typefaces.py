"""The typefaces that are shipped: one for everything, and wide ones for letters that it lacks.

Barlow (Latin) is set first, and has narrower widths for long words; Cinzel has the capitals of
carved inscriptions, for lettering as an engraver would cut it. Noto Sans has Greek, Cyrillic and
Devanagari besides, Noto Sans Arabic the Arabic script, and Noto Sans CJK the Chinese, Japanese and
Korean ones. All are under the SIL Open Font License 1.1. No font of the machine is used, so that a
page looks alike everywhere.
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

_LETTERING = ("fontpkg_barlow", "fontpkg_barlow_semi_condensed", "fontpkg_barlow_condensed",
              "fontpkg_cinzel")  # fmt: skip
# Package, and the file in it that sets plain text.
_WIDE = (
    ("fontpkg_noto_sans", "files/NotoSans[wdth,wght].ttf"),
    ("fontpkg_noto_sans_arabic", "files/NotoSansArabic[wdth,wght].ttf"),
    ("cvttf_NotoSansCJK_Regular", "NotoSansCJKtc-Regular.otf"),
)


@cache
def lettering_files() -> tuple[Path, ...]:
    """Files of the families that artwork and jobs are lettered in, Barlow's own width first."""
    found: list[Path] = []
    for package in _LETTERING:
        spec = find_spec(package)
        for folder in (spec.submodule_search_locations or []) if spec else []:
            found += sorted((Path(folder) / "files").glob("*.ttf"))
    return tuple(found)


@cache
def wide_files() -> tuple[Path, ...]:
    """Files of the wide typefaces that are installed, in the order in which they are asked."""
    found = []
    for package, name in _WIDE:
        spec = find_spec(package)
        for folder in (spec.submodule_search_locations or []) if spec else []:
            path = Path(folder) / name
            if path.is_file():
                found.append(path)
    return tuple(found)


def missing_letters(text: str) -> str:
    """Return the characters of a text that no shipped typeface has, each once, in order.

    Blanks and control characters have no shape and are never missing.
    """
    lost = []
    for sign in dict.fromkeys(text):
        if sign.isspace() or not sign.isprintable() or sign.isascii():
            continue
        if not any(font.get_nominal_glyph(ord(sign)) for font in _fonts()):
            lost.append(sign)
    return "".join(lost)


@cache
def _fonts() -> tuple[Any, ...]:
    import fontpkg_barlow
    import uharfbuzz as hb

    barlow = Path(fontpkg_barlow.ROOT) / "files" / "Barlow-Regular.ttf"
    return tuple(hb.Font(hb.Face(hb.Blob.from_file_path(path))) for path in (barlow, *wide_files()))
