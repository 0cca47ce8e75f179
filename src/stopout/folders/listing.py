"""The list of the files that a plan or a coupon wrote, each with its digest, in its own JSON."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from stopout.errors import OutputError
from stopout.folders.seal import is_sealed, sealed

# The file by which a folder of ours is known, what it is called, and the start of its format.
HEADS: Mapping[str, tuple[str, str]] = {
    "plan.json": ("plan", "stopout-plan-"),
    "coupon.json": ("coupon", "stopout-coupon-"),
    "timing.json": ("timing runs", "stopout-timing-"),
}
_ELSEWHERE = "choose another place with --out, or move it away"


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """What a folder's head says that was written with it: name -> sha256."""

    head: str
    digests: Mapping[str, str]

    def is_ours(self, path: Path) -> bool:
        """Tell whether a file still is what we wrote under that name."""
        if path.is_symlink() or not path.is_file():
            return False
        if path.name == self.head:
            return is_sealed(path.read_bytes())
        if path.name not in self.digests:
            return False
        data = path.read_bytes()
        return _sha256(data) == self.digests[path.name] or is_sealed(data)

    def names(self, name: str) -> bool:
        """Tell whether a name is one that we wrote, whatever stands under it now."""
        return name == self.head or name in self.digests


def listed(head: str, files: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return a folder's files, their list and the seal added to the head.

    Parameters
    ----------
    head : str
        The name of the head, a JSON object among `files`.
    files : mapping of str to bytes
        Every file of the folder by its name.
    """
    # Pages are sealed as well: printed again alone, they come out the same.
    whole = {
        name: sealed(data) if name.endswith((".pdf", ".html")) else data
        for name, data in files.items()
    }
    content = json.loads(files[head])
    content["written"] = {name: _sha256(whole[name]) for name in sorted(files) if name != head}
    whole[head] = sealed((json.dumps(content, indent=2) + "\n").encode())
    return whole


def listing_of(folder: Path, head: str) -> Listing:
    """Read the list of a folder of ours.

    Parameters
    ----------
    folder : Path
        The folder.
    head : str
        The name of its head: `plan.json` or `coupon.json`.

    Raises
    ------
    OutputError
        If the head is missing, is not ours, or does not say what was written with it.
    """
    path = folder / head
    kind, start = HEADS[head]
    if path.is_symlink() or not path.is_file():
        raise OutputError(
            f"{folder} holds no {head}, so it is not a folder of ours and is left alone; "
            "choose another place with --out"
        )
    try:
        content = json.loads(path.read_bytes())
    except (ValueError, RecursionError):
        content = None
    if not isinstance(content, dict) or not str(content.get("format", "")).startswith(start):
        raise OutputError(f"{path} is no {kind} of ours and is left alone; {_ELSEWHERE}")
    digests = content.get("written")
    if digests is None:
        raise OutputError(
            f"{path} is of an earlier version, which did not list the files that it wrote, so "
            "nothing there was touched; rename that folder and plan again, or choose another "
            "place with --out"
        )
    if not isinstance(digests, dict) or not all(map(_is_plain, digests)):
        raise OutputError(f"{path} has a damaged list of what was written; {_ELSEWHERE}")
    return Listing(head=head, digests={name: str(value) for name, value in digests.items()})


def _is_plain(name: str) -> bool:
    return name not in ("", ".", "..") and Path(name).name == name and "\0" not in name


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
