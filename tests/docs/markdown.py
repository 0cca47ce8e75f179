"""Reads the project's Markdown pages: fenced blocks, links, and headings as link targets."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")])
_FENCE = re.compile(r"^(?P<indent> *)```(?P<kind>\w*)\n(?P<body>.*?)^(?P=indent)```$", re.M | re.S)
_LINK = re.compile(r"!?\[[^\]]*\]\((?P<target>[^)\s]+)\)")
_ORDER = re.compile(r"^<!-- lines of: (?P<order>.+) -->$", re.M)


@dataclass(frozen=True)
class Block:
    """A fenced block; `order` is the command of the comment before it, if there is one."""

    page: Path
    line: int
    kind: str
    body: str
    order: str | None

    def __str__(self) -> str:
        return f"{self.page.relative_to(ROOT)}:{self.line}"


def blocks(page: Path) -> list[Block]:
    """The fenced blocks of a page, unindented."""
    text = page.read_text(encoding="utf-8")
    found = []
    for match in _FENCE.finditer(text):
        before = text[: match.start()].rstrip("\n").rsplit("\n", 1)[-1]
        order = _ORDER.match(before)
        body = re.sub(rf"^{match['indent']}", "", match["body"], flags=re.M)
        line = text.count("\n", 0, match.start()) + 1
        found.append(Block(page, line, match["kind"], body, order["order"] if order else None))
    return found


def links(page: Path) -> list[str]:
    """The targets of a page's links and pictures, those in fenced blocks left out."""
    text = _FENCE.sub("", page.read_text(encoding="utf-8"))
    return [match["target"] for match in _LINK.finditer(text)]


def anchors(page: Path) -> set[str]:
    """The fragments that a page's headings can be linked by."""
    text = _FENCE.sub("", page.read_text(encoding="utf-8"))
    heads = re.findall(r"^#+ (.+)$", text, re.M)
    return {re.sub(r"[^\w\- ]", "", head.lower()).strip().replace(" ", "-") for head in heads}


def all_blocks() -> list[Block]:
    """Every fenced block of every page."""
    return [block for page in PAGES for block in blocks(page)]
