"""The general DXF library, loaded so that it opens no file but the fonts it is given.

On its own it scans the computer for fonts when it is first imported and keeps the result in the
user's cache; here it starts with an empty list and gets the shipped font and those of the job.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from stopout.artwork.fonts import font_folder

__all__ = ["load_library"]

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
