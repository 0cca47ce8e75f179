"""What was found of pieces of a drawing: a piece that is as it was is not looked at again."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Any, TypeVar

_Found = TypeVar("_Found")

# Pieces that are remembered: those of some ten plates, in some hundred megabytes.
_MOST = 4000


class Memory:
    """Remembers results of pure functions by all that they were made from.

    It changes nothing but the time: what is found in it is what would be found without it. The
    pieces that have not been asked for the longest are forgotten first. Threads may share one.
    """

    def __init__(self, most: int = _MOST) -> None:
        self._most = most
        self._found: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = Lock()

    def recall(self, key: Hashable, make: Callable[[], _Found]) -> _Found:
        """Return what was made under this key; else make it.

        Parameters
        ----------
        key : hashable
            All that the result depends on.
        make : callable
            Makes it; what it raises is not remembered.
        """
        with self._lock:
            if key in self._found:
                self._found.move_to_end(key)
                found: _Found = self._found[key]
                return found
        made = make()
        with self._lock:
            self._found[key] = made
            while len(self._found) > self._most:
                self._found.popitem(last=False)
        return made

    def knows(self, key: Hashable) -> bool:
        """Tell whether something was made under this key."""
        with self._lock:
            return key in self._found
