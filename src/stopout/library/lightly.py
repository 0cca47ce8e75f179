"""Loads the numerical library's compiled modules without the packages that they lie in."""

from __future__ import annotations

import sys
import threading
from importlib import import_module
from pathlib import Path
from types import ModuleType

_OURS = "stopout.numerics"
_PACKAGES = ("spatial", "special", "linalg", "sparse")


def load_numerics() -> None:
    """Load `stopout.numerics` with empty modules in the place of packages that it does not need.

    They stand there for these few milliseconds, and only where no other thread could meet them.
    Who asks for one of the packages later gets it whole, with the very same compiled modules in it.
    What cannot be loaded so is loaded as usual when it is first used.
    """
    if threading.active_count() > 1 or _OURS in sys.modules:
        return
    empty = _empty_modules()
    if any(name in sys.modules for name in empty):
        return
    sys.modules.update(empty)
    try:
        import_module(_OURS)
    except Exception:  # whatever another version of the library makes of it
        sys.modules.pop(_OURS, None)
    finally:
        for name in empty:
            sys.modules.pop(name, None)


def _empty_modules() -> dict[str, ModuleType]:
    """What compiled modules ask for as they are loaded, with no more in it than they take then."""
    import scipy

    empty = {f"scipy.{name}": ModuleType(f"scipy.{name}") for name in _PACKAGES}
    for name in _PACKAGES:
        empty[f"scipy.{name}"].__path__ = [str(Path(scipy.__file__).parent / name)]
    # To numpy from 2 on, None says: copy where there is a need to.
    util = empty["scipy._lib._util"] = ModuleType("scipy._lib._util")
    util.copy_if_needed = None  # type: ignore[attr-defined]
    return empty
