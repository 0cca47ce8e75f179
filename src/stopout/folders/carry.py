"""Whatever is not ours goes along when a folder is replaced.

Before the exchange, what stays is linked into the new folder, so that it is in its place at every
moment; afterwards the old folder is emptied of what is ours or linked, and anything that is left
(it could not be linked, or came meanwhile) is moved.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

from stopout.errors import OutputError
from stopout.folders.listing import HEADS, Listing, listing_of
from stopout.folders.seal import is_sealed

_NOTHING = Listing(head="", digests={})


def carry(old: Path, new: Path) -> tuple[str, ...]:
    """Link everything of the old folder that is not ours into the new one.

    Parameters
    ----------
    old, new : Path
        The folder that is to be replaced, and the filled one.

    Returns
    -------
    tuple of str
        A sentence for each thing whose name had to change, or that no longer fits.

    Raises
    ------
    OutputError
        If something in it cannot be moved with the folder.
    """
    ours, device = _listing(old), old.stat().st_dev
    said = []
    for entry in sorted(old.iterdir()):
        if entry.lstat().st_dev != device:
            raise OutputError(
                f"{entry} lies on another disk than its folder, which therefore cannot be "
                "replaced; choose another place with --out"
            )
        if ours.is_ours(entry):
            continue
        was_ours = ours.names(entry.name)
        kept = new / _name_for(entry.name, new, was_ours=was_ours)
        if _link(entry, kept):
            said += _told(entry.name, kept, was_ours=was_ours)
    return tuple(said)


def settle(old: Path, place: Path) -> tuple[str, ...]:
    """Empty and remove a folder that has been replaced; what is only there moves to the place.

    Parameters
    ----------
    old, place : Path
        The folder that was replaced, and the one that stands in its place.
    """
    ours, there = _listing(old), set(_identities(place))
    said = []
    # The head goes last: a run that is killed meanwhile leaves the list to the next one.
    for entry in sorted(old.iterdir(), key=lambda path: (path.name == ours.head, path.name)):
        if ours.is_ours(entry):
            entry.unlink()
            continue
        was_ours = ours.names(entry.name)
        for name, kept in _settle_entry(entry, place / entry.name, there, was_ours=was_ours):
            said += _told(name, kept, was_ours=was_ours)
    old.rmdir()
    return tuple(said)


def _settle_entry(
    entry: Path, target: Path, there: set[tuple[int, int]], *, was_ours: bool
) -> Iterator[tuple[str, Path]]:
    """Remove an entry that is linked elsewhere, move any other; yield what moved, and whereto."""
    if entry.is_dir() and not entry.is_symlink() and target.is_dir():
        for inner in sorted(entry.iterdir()):
            yield from _settle_entry(inner, target / inner.name, there, was_ours=False)
        entry.rmdir()
    elif _identity(entry) in there:
        entry.unlink()
    else:
        kept = target.parent / _name_for(target.name, target.parent, was_ours=was_ours)
        entry.rename(kept)
        yield entry.name, kept


def _listing(folder: Path) -> Listing:
    for head in HEADS:
        try:
            return listing_of(folder, head)
        except OutputError:
            continue
    return _NOTHING


def _name_for(name: str, folder: Path, *, was_ours: bool) -> str:
    """The name itself, unless it is taken or was one of ours; then NAME-kept, NAME-kept-2..."""
    if not was_ours and not os.path.lexists(folder / name):
        return name
    stem, suffix = os.path.splitext(name)
    names = (f"{stem}-kept{'' if k == 1 else f'-{k}'}{suffix}" for k in range(1, 10**6))
    return next(other for other in names if not os.path.lexists(folder / other))


def _link(entry: Path, target: Path) -> bool:
    """Link a file, or a folder file by file; tell whether it is there now, or left to be moved.

    Some disks have no links, some systems none of links, and some users no right to.
    """
    if entry.is_dir() and not entry.is_symlink():
        target.mkdir()
        for inner in sorted(entry.iterdir()):
            _link(inner, target / inner.name)
        shutil.copystat(entry, target)
        return True
    try:
        os.link(entry, target, follow_symlinks=False)
    except (OSError, NotImplementedError):
        return False
    return True


def _told(name: str, kept: Path, *, was_ours: bool) -> list[str]:
    if was_ours:
        return [f"{name} was changed since it was written; it is kept as {kept.name}"]
    if name != kept.name:
        return [f"{name} is not ours; it is kept as {kept.name}"]
    if kept.suffix == ".nc" and kept.is_file() and is_sealed(kept.read_bytes()):
        return [f"{name} was made for the earlier plan and does not fit this one"]
    return []


def _identity(path: Path) -> tuple[int, int]:
    found = path.lstat()
    return found.st_dev, found.st_ino


def _identities(folder: Path) -> Iterator[tuple[int, int]]:
    for path in folder.rglob("*"):
        yield _identity(path)
