"""A digest inside a file by which it is known as ours and unedited, wherever it lies.

A picture, page or program that a command writes alone has no list beside it to be found in. The
digest is of all other bytes of the file, so that the first edit breaks it; it guards against
mistakes, not against forgery.
"""

from __future__ import annotations

import hashlib
import re
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass

_DIGITS = 64
# Some controls take no longer comment than fifty characters.
_PROGRAM_DIGITS = 32


@dataclass(frozen=True, slots=True)
class _Kind:
    """A format: how it begins, where the seal stands, and what the seal looks like."""

    starts: tuple[bytes, ...]
    split: Callable[[bytes], int]
    wrap: Callable[[str], bytes]
    found: re.Pattern[bytes]
    digits: int = _DIGITS


def _chunk(digest: str) -> bytes:
    """A text chunk of a PNG (ISO/IEC 15948, 11.3.4.3)."""
    content = b"tEXtstopout-seal\0" + digest.encode()
    return struct.pack(">I", len(content) - 4) + content + struct.pack(">I", zlib.crc32(content))


def _digits(count: int) -> bytes:
    return b"([0-9a-f]{%d})" % count


_KINDS = (
    _Kind(
        (b"\x89PNG\r\n\x1a\n",),
        # Before the chunk that ends the picture: length, IEND, checksum.
        lambda data: len(data) - 12,
        _chunk,
        re.compile(b"\0\0\0.tEXtstopout-seal\0" + _digits(_DIGITS) + b".{4}", re.DOTALL),
    ),
    _Kind(
        (b"%PDF-",),
        len,
        lambda digest: f"\n%stopout-seal {digest}\n".encode(),
        re.compile(b"\n%stopout-seal " + _digits(_DIGITS) + rb"\n\Z"),
    ),
    _Kind(
        (b"<!doctype html>",),
        len,
        lambda digest: f"<!-- stopout-seal {digest} -->\n".encode(),
        re.compile(b"<!-- stopout-seal " + _digits(_DIGITS) + rb" -->\n\Z"),
    ),
    _Kind(
        (b"(", b"G21"),
        lambda data: 0,
        lambda digest: f"(stopout-seal {digest})\n".encode(),
        re.compile(rb"\A\(stopout-seal " + _digits(_PROGRAM_DIGITS) + rb"\)\n"),
        _PROGRAM_DIGITS,
    ),
    # JSON as `json.dumps(..., indent=2)` writes it, an object with something in it.
    _Kind(
        (b"{\n",),
        lambda data: len(data) - 3,
        lambda digest: f',\n  "seal": "{digest}"'.encode(),
        re.compile(b',\n  "seal": "' + _digits(_DIGITS) + rb'"(?=\n\}\n\Z)'),
    ),
)


def sealed(data: bytes) -> bytes:
    """Return a file's bytes with the seal in them.

    Parameters
    ----------
    data : bytes
        A PNG, PDF, HTML page, program or JSON object of ours; anything else is returned as it is.
    """
    kind = _kind(data)
    if kind is None:
        return data
    at = kind.split(data)
    return data[:at] + kind.wrap(_digest(data, kind)) + data[at:]


def is_sealed(data: bytes) -> bool:
    """Tell whether a file's bytes hold a seal that fits all the others."""
    kind = _kind(data)
    if kind is None:
        return False
    seals = list(kind.found.finditer(data))
    if len(seals) != 1:
        return False
    seal = seals[0]
    bare = data[: seal.start()] + data[seal.end() :]
    return _digest(bare, kind).encode() == seal[1] and sealed(bare) == data


def _kind(data: bytes) -> _Kind | None:
    return next((kind for kind in _KINDS if data.startswith(kind.starts)), None)


def _digest(data: bytes, kind: _Kind) -> str:
    return hashlib.sha256(data).hexdigest()[: kind.digits]
