"""The fonts that lettering may use: the one shipped, those a job gives, those installed.

A family is looked for in that order. The artwork itself never names a file: it names a family,
and only files from these places are opened.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from stopout.errors import ArtworkError
from stopout.typefaces import lettering_files, wide_files

FONT_ENDINGS = (".ttf", ".otf", ".ttc", ".otc")
_MOST_BYTES = 60_000_000
_MOST_FILES = 5000


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """One face of a family: where it lies and how it looks.

    `weight` is the range of weights that it can take (one value for an ordinary font), `index`
    its place in a collection.
    """

    family: str
    weight: tuple[float, float]
    is_italic: bool
    path: Path
    index: int = 0


class FontBook:
    """Finds faces by family, weight and style."""

    def __init__(self, given: Sequence[Path] = ()) -> None:
        self._near = [face for path in given for face in _given(path)]
        self.given = tuple(given)

    @property
    def faces(self) -> tuple[Face, ...]:
        """The faces of the given files, then those shipped."""
        return (*self._near, *_shipped())

    @property
    def families(self) -> tuple[str, ...]:
        """The families at hand without a look at what is installed."""
        return tuple(dict.fromkeys(face.family for face in self.faces))

    def find(self, family: str, weight: float, *, is_italic: bool) -> tuple[Face | None, bool]:
        """Return the face for a family, and whether it is one that is merely installed.

        Notes
        -----
        Among the faces of a family the style counts first, then the weight by the rule of CSS
        Fonts Level 4, section 5.2: from 400 to 500 first upwards to 500, then lighter, then
        heavier; below 400 lighter first, above 500 heavier first.
        """
        wanted = family.casefold()
        for faces in (self._near, _shipped(), wide_faces()):
            if found := _best(faces, wanted, weight, is_italic):
                return found, False
        return _best(_installed(), wanted, weight, is_italic), True


def font_folder() -> Path:
    """Return the folder of the font that is shipped."""
    import fontpkg_barlow

    return Path(fontpkg_barlow.ROOT) / "files"


def _best(faces: Sequence[Face], family: str, weight: float, is_italic: bool) -> Face | None:
    same = [face for face in faces if face.family.casefold() == family]
    if not same:
        return None

    def cost(face: Face) -> tuple[bool, int, float]:
        least, most = face.weight
        if least <= weight <= most:
            return (face.is_italic != is_italic, 0, 0.0)
        gap = least - weight if weight < least else weight - most
        if 400 <= weight <= 500:
            step = 1 if weight < least <= 500 else (2 if most < weight else 3)
        elif weight < 400:
            step = 1 if most < weight else 2
        else:
            step = 1 if least > weight else 2
        return (face.is_italic != is_italic, step, gap)

    return min(same, key=cost)


def _given(path: Path) -> list[Face]:
    try:
        faces = _faces(path)
    except OSError as fault:
        reason = (fault.strerror or "it cannot be opened").lower()
        raise ArtworkError(f"{path.name}: the font cannot be opened: {reason}") from None
    if not faces:
        raise ArtworkError(
            f"{path.name}: this is no font that can be read; give a TrueType or OpenType file"
        )
    return faces


@lru_cache(maxsize=1)
def _shipped() -> tuple[Face, ...]:
    return tuple(face for path in lettering_files() for face in _faces(path))


@lru_cache(maxsize=1)
def wide_faces() -> tuple[Face, ...]:
    """Return the shipped faces that have the letters of other scripts."""
    return tuple(face for path in wide_files() for face in _faces(path))


@lru_cache(maxsize=1)
def _installed() -> tuple[Face, ...]:
    found: list[Face] = []
    for count, path in enumerate(_installed_files()):
        if count >= _MOST_FILES:
            break
        try:
            found += _faces(path)
        except OSError:
            continue
    return tuple(found)


def _installed_files() -> list[Path]:
    home = Path(os.path.expanduser("~"))
    if sys.platform == "win32":
        folders = [Path(os.environ.get("WINDIR", "C:/Windows")) / "Fonts",
                   home / "AppData/Local/Microsoft/Windows/Fonts"]  # fmt: skip
    elif sys.platform == "darwin":
        folders = [Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts"]
    else:
        folders = [Path("/usr/share/fonts"), Path("/usr/local/share/fonts"),
                   home / ".local/share/fonts", home / ".fonts"]  # fmt: skip
    files: list[Path] = []
    for folder in folders:
        for where, _, names in os.walk(folder):
            files += [Path(where) / name for name in names if name.lower().endswith(FONT_ENDINGS)]
    return sorted(files)


def _faces(path: Path) -> list[Face]:
    """Read the name, weight and style of every face in a file; none where it is no font."""
    import uharfbuzz as hb

    if path.stat().st_size > _MOST_BYTES:
        return []
    data = path.read_bytes()
    if data[:4] not in (b"\0\1\0\0", b"OTTO", b"true", b"ttcf"):
        return []
    blob = hb.Blob(data)
    count = hb.Face(blob).count if hasattr(hb.Face, "count") else 1
    found = []
    for index in range(min(int(count or 1), 64)):
        face = hb.Face(blob, index)
        family = _family(face)
        if family and face.upem and face.glyph_count:
            found.append(
                Face(
                    family=family,
                    weight=_weights(face),
                    is_italic=_is_italic(face),
                    path=path,
                    index=index,
                )
            )
    return found


def _family(face: Any) -> str:
    import uharfbuzz as hb

    known = hb.OTNameIdPredefined
    for kind in (known.TYPOGRAPHIC_FAMILY, known.FONT_FAMILY):
        name = face.get_name(kind)
        if name:
            return str(name)
    return ""


def _os2(face: Any) -> bytes:
    return bytes(face.reference_table("OS/2").data or b"")


def _weights(face: Any) -> tuple[float, float]:
    for axis in face.axis_infos:
        if axis.tag == "wght":
            return float(axis.min_value), float(axis.max_value)
    table = _os2(face)
    weight = float(int.from_bytes(table[4:6], "big")) if len(table) >= 6 else 400.0
    return weight, weight


def _is_italic(face: Any) -> bool:
    table = _os2(face)
    return len(table) >= 64 and bool(int.from_bytes(table[62:64], "big") & 0x0201)
