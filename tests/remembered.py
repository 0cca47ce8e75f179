"""Renderer and typesetter give the same for the same: what they were asked before is remembered.

Most tests of the command plan one small tag again and again. Its picture and its pages cost twice
what its plan does, and are made by libraries of other hands from a text that holds all of them.
Tests of two runs giving the same bytes are not weakened: one of them uses processes of their own.
"""

from __future__ import annotations

import resvg_py
import typst

__all__ = ["remember_pictures_and_pages", "remembered"]

# Of these many, at 0.3 MB or less each.
_MOST = 100


def remember_pictures_and_pages():
    """Let the renderer and the typesetter answer from memory what they were asked before."""
    resvg_py.svg_to_bytes = _remembering(resvg_py.svg_to_bytes)
    typst.compile = _remembering(typst.compile)


def _remembering(make):
    """Return a function that remembers what another made of the same words."""
    kept = {}

    def made(*args, **options):
        words = sorted(options.items(), key=lambda option: option[0])
        return remembered(kept, repr((args, words)), lambda: make(*args, **options))

    return made


def remembered(kept, key, make):
    """What was made for a key; the oldest of very many are forgotten."""
    if key not in kept:
        kept[key] = make()
        if len(kept) > _MOST:
            del kept[next(iter(kept))]
    return kept[key]
