"""The independent renderer, called in one place: what it says when it gives up is ours."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from stopout.errors import ArtworkError

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
