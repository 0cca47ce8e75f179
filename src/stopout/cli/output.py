"""Whole-or-nothing folders: written beside their place, then put there by one rename."""

from __future__ import annotations

import ctypes
import os
import shutil
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

from stopout.errors import OutputError

__all__ = ["check_free", "check_replaceable", "write_file", "write_folder"]

_AT_FDCWD = -100
_RENAME_EXCHANGE = 2


def check_free(folder: Path, *, replace_with: str | None) -> None:
    """Refuse a folder that may not be written.

    Parameters
    ----------
    folder : Path
        The place.
    replace_with : str or None
        None: nothing may be there. Otherwise the name of a file by which a folder of ours is
        known: a folder that holds it, or an empty one, may be replaced.

    Raises
    ------
    OutputError
        With what to do about it.
    """
    if not folder.parent.is_dir():
        raise OutputError(f"{folder.parent} is not a folder; make it first")
    if not os.path.lexists(folder):
        return
    if not folder.is_dir() or folder.is_symlink():
        raise OutputError(f"{folder} exists and is not a plain folder; choose another place")
    if replace_with is None:
        raise OutputError(f"{folder} exists already; choose another place")
    if any(folder.iterdir()) and not (folder / replace_with).is_file():
        raise OutputError(
            f"{folder} holds no {replace_with}, so it is not a folder of ours and is left alone; "
            "choose another place with --out"
        )


def write_folder(folder: Path, files: Mapping[str, bytes], *, replace_with: str | None) -> None:
    """Write files into a new folder, all or nothing.

    The files go to a folder beside the place, which is then renamed. An existing folder that may
    be replaced (see `check_free`) is exchanged in one step where the system can, so that at each
    moment the old folder or the new one is whole.

    Raises
    ------
    OutputError
        If the place may not be written.
    OSError
        If the disk fails; nothing is left behind then.
    """
    check_free(folder, replace_with=replace_with)
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        for name, data in files.items():
            _write(beside / name, data)
        beside.chmod(0o777 & ~_umask())
        if folder.exists():
            _exchange(beside, folder)
        else:
            beside.rename(folder)
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def check_replaceable(target: Path, *, starts: tuple[bytes, ...], kind: str) -> None:
    """Refuse a file's place where something else than an earlier file of the kind stands.

    Parameters
    ----------
    target : Path
        The place.
    starts : tuple of bytes
        How a file of the kind begins.
    kind : str
        What it is called, such as "PDF".

    Raises
    ------
    OutputError
        With what to do about it.
    """
    if not target.parent.is_dir():
        raise OutputError(f"{target.parent} is not a folder; make it first")
    if not os.path.lexists(target):
        return
    if target.is_symlink() or not target.is_file():
        raise OutputError(f"{target} exists and is not a plain file; choose another place")
    with target.open("rb") as file:
        if not file.read(max(len(start) for start in starts)).startswith(starts):
            raise OutputError(f"{target} exists and is no {kind}; choose another place")


def write_file(target: Path, data: bytes) -> None:
    """Write beside the place, then rename: the old file or the new one is whole at any moment."""
    handle, name = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
    os.close(handle)
    beside = Path(name)
    try:
        _write(beside, data)
        beside.chmod(0o666 & ~_umask())
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)


def _write(path: Path, data: bytes) -> None:
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _exchange(new: Path, old: Path) -> None:
    """Put `new` in the place of `old`, and `old` in the place of `new`."""
    if sys.platform == "linux":
        libc = ctypes.CDLL(None, use_errno=True)
        if hasattr(libc, "renameat2"):
            done = libc.renameat2(
                _AT_FDCWD, os.fsencode(new), _AT_FDCWD, os.fsencode(old), _RENAME_EXCHANGE
            )
            if done == 0:
                return
    aside = Path(tempfile.mkdtemp(prefix=f".{old.name}-", dir=old.parent)) / "old"
    old.rename(aside)
    try:
        new.rename(old)
    except OSError:
        aside.rename(old)
        raise
    finally:
        shutil.rmtree(aside.parent, ignore_errors=True)
