"""The general DXF library, loaded so that it opens no file but the fonts it is given.

On its own it scans the computer for fonts when it is first imported and keeps the result in the
user's cache; here it starts with an empty list and gets the shipped font and those of the job.
"""

from __future__ import annotations

import contextlib
import io
import logging
import os
import tempfile
from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from stopout.artwork.fonts.book import FontBook, font_folder, wide_faces
from stopout.artwork.fonts.shaping import has_letter

_CACHE = "XDG_CACHE_HOME"
# A list of another version is made anew, into the same temporary folder.
_EMPTY = '{"version": 2, "font-faces": []}'
_FALLBACK = "Barlow-Regular.ttf"


def load_library(fonts: Sequence[Path] = ()) -> Any:
    """Return the library's package, with the font shipped and the given font files at hand."""
    library = _imported()
    from ezdxf.fonts import fonts as own

    manager: Any = own.font_manager
    manager.clear()
    manager._match_cache.clear()
    manager.build([str(font_folder())], support_dirs=False)
    for path in fonts:
        from ezdxf.fonts.font_manager import get_ttf_font_face

        manager._font_cache.add_entry(path, get_ttf_font_face(path))
    manager._fallback_font_name = _FALLBACK
    return library


class _Ear(logging.Handler):
    """Keeps what the library says about a file."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep one line."""
        self.lines.append(record.getMessage())


@contextlib.contextmanager
def heard() -> Iterator[list[str]]:
    """Listen to the library instead of letting it speak on the terminal."""
    ear, logger = _Ear(), logging.getLogger("ezdxf")
    speaks = logger.propagate
    logger.addHandler(ear)
    logger.propagate = False
    try:
        with contextlib.redirect_stdout(io.StringIO()):
            yield ear.lines
    finally:
        logger.removeHandler(ear)
        logger.propagate = speaks


def set_letters(words: set[str]) -> str | None:
    """Let lettering be set in a wide typeface where the usual one lacks some of its letters.

    Returns
    -------
    str or None
        The family that was taken; None where the usual one has all letters, or none has.
    """
    from ezdxf.fonts import fonts as own
    from ezdxf.fonts.font_manager import get_ttf_font_face

    signs = [sign for sign in words if sign.isprintable() and not sign.isspace()]
    usual, *wide = FontBook().find("Barlow", 400.0, is_italic=False)[:1] + wide_faces()
    if usual is None or all(has_letter(usual, sign) for sign in signs):
        return None
    for face in wide:
        if face is not None and all(has_letter(face, sign) for sign in signs):
            manager: Any = own.font_manager
            manager._font_cache.add_entry(face.path, get_ttf_font_face(face.path))
            manager._fallback_font_name = face.path.name
            return face.family
    return None


@lru_cache(maxsize=1)
def _imported() -> Any:
    kept = os.environ.get(_CACHE)
    with tempfile.TemporaryDirectory(prefix="stopout-") as folder:
        empty = Path(folder) / "ezdxf" / "font_manager_cache.json"
        empty.parent.mkdir()
        empty.write_text(_EMPTY, encoding="utf-8")
        os.environ[_CACHE] = folder
        try:
            import ezdxf
        finally:
            if kept is None:
                del os.environ[_CACHE]
            else:
                os.environ[_CACHE] = kept
    return ezdxf
