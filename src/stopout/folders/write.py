"""Whole-or-nothing folders: filled beside their place, then put there in one step."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Mapping
from pathlib import Path

from stopout.errors import OutputError
from stopout.folders.carry import carry, settle
from stopout.folders.listing import HEADS, listed, listing_of
from stopout.folders.seal import is_sealed, sealed
from stopout.folders.workplace import WorkPlace, clear_dead, work_place

_AT_FDCWD = -100
_RENAME_EXCHANGE = 2
# How files of ours begin, by what they are; a program with a comment, or with G21 G90.
_STARTS = {
    "PNG": (b"\x89PNG",),
    "PDF": (b"%PDF-",),
    "HTML": (b"<!doctype html>",),
    "program": (b"(", b"G21", b"G20", b"G70", b"G71"),
}


def check_free(folder: Path, *, replace_with: str | None) -> tuple[str, ...]:
    """Refuse a folder that may not be written; clear away what killed runs left beside it.

    Parameters
    ----------
    folder : Path
        The place.
    replace_with : str or None
        None: nothing may be there. Otherwise the name of the head by which a folder of ours is
        known: a folder that holds it and says what was written with it, or an empty one, may be
        replaced.

    Returns
    -------
    tuple of str
        A sentence for each thing that a killed run had left and that was put back.

    Raises
    ------
    OutputError
        With what to do about it.
    """
    if not folder.parent.is_dir():
        raise OutputError(f"{folder.parent} is not a folder; make it first")
    said = clear_dead(folder.parent)
    if not os.path.lexists(folder):
        return said
    if not folder.is_dir() or folder.is_symlink():
        raise OutputError(f"{folder} exists and is not a plain folder; choose another place")
    if replace_with is None:
        raise OutputError(f"{folder} exists already; choose another place")
    if any(folder.iterdir()):
        listing_of(folder, replace_with)
    return said


def write_folder(
    folder: Path, files: Mapping[str, bytes], *, replace_with: str | None
) -> tuple[str, ...]:
    """Write files into a new folder, all or nothing.

    The files go to a hidden folder beside the place. An existing folder that may be replaced (see
    `check_free`) is exchanged in one step where the system can, so that at each moment the old
    folder or the new one is whole. Only what the old one says that was written with it, and still
    is as it was written, goes; everything else stays. A head among the files (`plan.json`,
    `coupon.json`) is given the list.

    Returns
    -------
    tuple of str
        A sentence for each file whose name had to change, or that no longer fits.

    Raises
    ------
    OutputError
        If the place may not be written.
    OSError
        If the disk fails; nothing is left behind then.
    """
    check_free(folder, replace_with=replace_with)
    head = next((name for name in HEADS if name in files), None)
    whole = files if head is None or is_sealed(files[head]) else listed(head, files)
    with work_place(folder.parent) as work:
        work.begin(folder.name)
        for name, data in whole.items():
            _write(work.new / name, data)
        said = carry(folder, work.new) if folder.exists() else ()
        work.new.chmod(0o777 & ~_umask())
        if not folder.exists():
            work.new.rename(folder)
            return said
        return (*said, *settle(_exchange(work, folder), folder))


def check_replaceable(target: Path, *, kind: str) -> None:
    """Refuse a file's place where something else than an unedited file of ours stands.

    `kind` is what it is to be: PNG, PDF, HTML or program.

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
    data = target.read_bytes()
    if not data.startswith(_STARTS[kind]):
        raise OutputError(f"{target} exists and is no {kind}; choose another place")
    if not is_sealed(data) and not _is_listed(target):
        raise OutputError(
            f"{target} exists and is not a {kind} as we wrote it: it is someone else's, or was "
            "changed since; choose another place"
        )


def write_file(target: Path, data: bytes) -> None:
    """Write beside the place, then rename: the old file or the new one is whole at any moment.

    A picture, page or program is sealed, so that it may be replaced as long as nobody edits it.
    """
    is_text = data.startswith(b"{")
    with work_place(target.parent) as work:
        beside = work.path / "file"
        _write(beside, data if is_text else sealed(data))
        beside.chmod(0o666 & ~_umask())
        beside.replace(target)


def _is_listed(target: Path) -> bool:
    for head in HEADS:
        try:
            return listing_of(target.parent, head).is_ours(target)
        except OutputError:
            continue
    return False


def _write(path: Path, data: bytes) -> None:
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _exchange(work: WorkPlace, folder: Path) -> Path:
    """Put the filled folder in its place and return where the old one is now."""
    if sys.platform == "linux":
        libc = ctypes.CDLL(None, use_errno=True)
        if hasattr(libc, "renameat2"):
            done = libc.renameat2(
                _AT_FDCWD, os.fsencode(work.new), _AT_FDCWD, os.fsencode(folder), _RENAME_EXCHANGE
            )
            if done == 0:
                return work.new
    folder.rename(work.old)
    try:
        work.new.rename(folder)
    except OSError:
        work.old.rename(folder)
        raise
    return work.old
