"""What was found of pieces of a drawing: a piece that is as it was is not looked at again."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from threading import Lock
from typing import Any, TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stopout.values import ColourPicture

_Found = TypeVar("_Found")

# Pieces that are remembered: those of some ten plates, in some hundred megabytes.
_MOST = 4000


def digest_of(*regions: BaseGeometry | None) -> bytes:
    """Return what tells these regions from all others."""
    digest = hashlib.blake2b(digest_size=24)
    for text in shapely.to_wkb(np.array(regions, dtype=object)):
        text = text or b""
        digest.update(len(text).to_bytes(8, "big") + text)
    return digest.digest()


def digest_of_picture(picture: ColourPicture) -> bytes:
    """Return what tells this picture from all others."""
    where = repr((picture.rgb.shape, picture.left_mm, picture.top_mm, picture.px_mm))
    digest = hashlib.blake2b(where.encode(), digest_size=24)
    for pixels in (picture.rgb, picture.is_painted):
        digest.update(pixels.tobytes())
    return digest.digest()


class Memory:
    """Remembers results of pure functions by all that they were made from.

    It changes nothing but the time: what is found in it is what would be found without it. The
    pieces that have not been asked for the longest are forgotten first. Threads may share one.
    """

    def __init__(self, most: int = _MOST) -> None:
        self._most = most
        self._found: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = Lock()

    @property
    def remembers(self) -> bool:
        """Tell whether anything is kept at all."""
        return self._most > 0

    def recall(self, key: Hashable, make: Callable[[], _Found]) -> _Found:
        """Return what was made under this key; else make it.

        Parameters
        ----------
        key : hashable
            All that the result depends on.
        make : callable
            Makes it; what it raises is not remembered.
        """
        return self.recall_all([key], lambda _: [make()])[0]

    def recall_all(
        self, keys: Sequence[Hashable], make: Callable[[list[int]], Sequence[_Found]]
    ) -> list[_Found]:
        """Return what was made under each key; make all that is missing at once.

        Parameters
        ----------
        keys : sequence of hashable
            As for `recall`.
        make : callable
            Is given the indices of the keys that are missing, each key once, and makes what
            belongs to them.
        """
        found: dict[Hashable, Any] = {}
        with self._lock:
            for key in keys:
                if key in self._found:
                    self._found.move_to_end(key)
                    found[key] = self._found[key]
        first = {key: k for k, key in reversed(list(enumerate(keys)))}
        missing = sorted(k for key, k in first.items() if key not in found)
        if missing:
            found.update(zip((keys[k] for k in missing), make(missing), strict=True))
            with self._lock:
                self._found.update((keys[k], found[keys[k]]) for k in missing)
                while len(self._found) > self._most:
                    self._found.popitem(last=False)
        return [found[key] for key in keys]

    def knows(self, key: Hashable) -> bool:
        """Tell whether something was made under this key."""
        with self._lock:
            return key in self._found
