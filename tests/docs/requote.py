"""Brings the quoted outputs of the documents up to what the tool says today.

    python tests/docs/requote.py [words of a page's name ...]

Each piece of a quote (pieces are parted by a line of `...`) is replaced by the run of output lines
that is most like it, numbers left aside. A piece that is like nothing any more is told, with its
place, and left to a person.
"""

from __future__ import annotations

import re
import sys
import textwrap
from difflib import SequenceMatcher
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from docs.bench_jobs import output_of
from docs.markdown import Block, all_blocks
from docs.test_documents import is_said

WIDTH = 100
ALIKE_ENOUGH = 0.6


def main(names: list[str]) -> int:
    """Rewrite the stale quotes; the status is the number of pieces left to a person."""
    left = 0
    for block in all_blocks():
        if block.order is None or not all(name in str(block) for name in names):
            continue
        pieces = block.body.removesuffix("\n").split("\n...\n")
        lines = output_of(block.order).splitlines()
        fresh = [freshly(piece, lines) for piece in pieces]
        for piece, found in zip(pieces, fresh, strict=True):
            if found is None:
                print(f"{block}: nothing like this is said any more:\n{piece}\n")
                left += 1
        replace(block, [new or old for old, new in zip(pieces, fresh, strict=True)])
    return left


def freshly(piece: str, lines: list[str]) -> str | None:
    """A piece as it is said today: as it was, or the lines most like it; None if none is alike."""
    if is_said(piece, "\n".join(lines)):
        return piece
    wanted = masked(piece)
    best, score = None, ALIKE_ENOUGH
    for first in range(len(lines)):
        for last in range(first + 1, min(len(lines), first + piece.count("\n") + 4) + 1):
            run = lines[first:last]
            alike = SequenceMatcher(None, wanted, masked(" ".join(run)), autojunk=False).ratio()
            if alike > score:
                best, score = run, alike
    return None if best is None else "\n".join(map(wrapped, best))


def masked(text: str) -> list[str]:
    """The words of a text with every number alike."""
    return re.sub(r"\d+(\.\d+)?", "0", text).split()


def wrapped(line: str) -> str:
    """One output line in as many lines as a page takes, its first indent kept."""
    indent = line[: len(line) - len(line.lstrip())]
    return textwrap.fill(
        line.strip(),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def replace(block: Block, pieces: list[str]) -> None:
    """Write the pieces where the block's body stands in its page."""
    text = block.page.read_text(encoding="utf-8")
    body = "\n...\n".join(pieces) + "\n"
    head = f"<!-- lines of: {block.order} -->\n```{block.kind}\n"
    old, new = head + block.body, head + body
    assert old in text, f"{block}: an indented quote is not rewritten"
    if old != new:
        block.page.write_text(text.replace(old, new), encoding="utf-8")
        print(f"{block}: rewritten")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
