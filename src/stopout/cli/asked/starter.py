"""The text of a starter job, changed key by key; its comments stay where they still hold."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stopout.job.shop_numbers import Equipment


# How the example's machine clears its paint says nothing of another.
_CLEARING = """\
# [clearing]                       # left out: power and speed as the shop keeps them for the paint,
# power = ""                       # else by what is known of it. Burn a test piece first:
# speed = ""                       # stopout coupon clearing job.toml"""


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
        """Leave out of the example what belongs to another paint, or to another machine."""
        paints = {one.name for one in shop if one.kind == "paint"}
        for place in (*self._places("resist"), *self._places("coat")):
            named = re.search(r'(?m)^paint = "(.*)"', self._blocks[place])
            if named and named[1] in paints:
                self._blocks[place] = re.sub(r"(?m)^colour = .*\n", "", self._blocks[place])
        if "name" in tomllib.loads(self.text).get("machine", {}):
            self._replace("clearing", _CLEARING)

    def _places(self, table: str) -> list[int]:
        header = re.compile(rf"(?m)^\[{{1,2}}{table}\]")
        return [k for k, block in enumerate(self._blocks) if header.search(block)]

    def _replace(self, table: str, block: str) -> None:
        for place in self._places(table)[:1]:
            self._blocks[place] = block
