"""The text of a starter job, changed key by key; its comments stay where they still hold."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stopout.job.shop_numbers import Equipment


class Starter:
    """A job file in blocks, a table each, parted by blank lines."""

    def __init__(self, text: str) -> None:
        self._blocks = text.rstrip("\n").split("\n\n")

    @property
    def text(self) -> str:
        """The whole job file."""
        return "\n\n".join(block for block in self._blocks if block) + "\n"

    def value(self, table: str, key: str) -> str:
        """The text of a key in the first table of that name, "" where it has none."""
        read = tomllib.loads(self.text).get(table, {})
        value = (read[0] if isinstance(read, list) else read).get(key, "")
        return value if isinstance(value, str) else ""

    def put(self, table: str, key: str, value: str, *, at: int = 0) -> None:
        """Give a key a text, in the table of that name or in the one at that place of several."""
        from stopout.jobs.validate import toml_text

        line = f"{key} = {toml_text(value)}"
        if key == "name" and table in ("machine", "limits"):
            # The shop has the rest of it.
            self._replace(table, f"[{table}]\n{line}")
            return
        place = self._places(table)
        if not place:
            self._blocks.append(f"[{table}]\n{line}")
            return
        block = self._blocks[place[at]]
        changed, count = re.subn(rf"(?m)^{key} = .*$", lambda _: line, block)
        self._blocks[place[at]] = changed if count else f"{block}\n{line}"

    def take_from_shop(self, shop: tuple[Equipment, ...]) -> None:
        """Leave out what the paints that the job names bring with them."""
        paints = {one.name: one for one in shop if one.kind == "paint"}
        job = tomllib.loads(self.text)
        machine = job.get("machine", {}).get("name")
        is_cleared = False
        for table in ("resist", "coat"):
            for place in self._places(table):
                named = re.search(r'(?m)^paint = "(.*)"', self._blocks[place])
                kept = paints.get(named[1]) if named else None
                if kept is not None:
                    self._blocks[place] = re.sub(r"(?m)^colour = .*\n", "", self._blocks[place])
                    is_cleared |= "power" in kept.keys and kept.keys.get("machine") == machine
        if is_cleared:
            self._replace("clearing", "")

    def _places(self, table: str) -> list[int]:
        header = re.compile(rf"(?m)^\[{{1,2}}{table}\]")
        return [k for k, block in enumerate(self._blocks) if header.search(block)]

    def _replace(self, table: str, block: str) -> None:
        for place in self._places(table)[:1]:
            self._blocks[place] = block
