"""The independent renderer, called in one place: what it says when it gives up is ours."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from stopout.artwork.fonts.book import FontBook
from stopout.errors import ArtworkError
from stopout.typefaces import lettering_files, wide_files

_STANDARD_ERROR = 2


def rendered(otherwise: str, **options: Any) -> bytes:
    """Render an SVG document to PNG.

    Parameters
    ----------
    otherwise : str
        What is said where the renderer gives up.
    **options
        Of the renderer.

    Raises
    ------
    ArtworkError
        If the renderer refuses the document, or gives up from within.
    """
    import resvg_py

    try:
        with _silent():
            return bytes(resvg_py.svg_to_bytes(**options))
    except BaseException as fault:
        # A panic inside the renderer is no ordinary exception.
        if not isinstance(fault, ValueError | RuntimeError) and not _is_panic(fault):
            raise
        raise ArtworkError(otherwise) from None


def typefaces_of(fonts: Sequence[Path] | None) -> dict[str, Any]:
    """Return the renderer's options for lettering: the files that have its letters, and no others.

    What leaves the choice of a family open gets the family that the lettering takes for it, which
    is never one that only lends the letters of other scripts.

    Parameters
    ----------
    fonts : sequence of Path or None
        Font files besides the ones shipped; None where the document holds no text.
    """
    lent = wide_files()
    family = FontBook([path for path in fonts or () if path not in lent]).families[0]
    generic = ("serif", "sans_serif", "cursive", "fantasy", "monospace")
    folders = dict.fromkeys(str(path.parent) for path in lettering_files())
    return {
        "skip_system_fonts": True,
        "font_dirs": [] if fonts is None else list(folders),
        "font_files": [str(path) for path in fonts or ()],
        **{f"{name}_family": family for name in generic},
    }


def _is_panic(fault: BaseException) -> bool:
    return type(fault).__name__ == "PanicException"


@contextmanager
def _silent() -> Iterator[None]:
    """Keep off standard error what a compiled library writes there by itself, such as a panic."""
    try:
        kept = os.dup(_STANDARD_ERROR)
        nowhere = os.open(os.devnull, os.O_WRONLY)
    except OSError:
        # There is no standard error to be spared.
        yield
        return
    try:
        os.dup2(nowhere, _STANDARD_ERROR)
        yield
    finally:
        os.dup2(kept, _STANDARD_ERROR)
        os.close(nowhere)
        os.close(kept)
