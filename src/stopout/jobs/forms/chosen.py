"""Which one: an entry of a table, a place on the blank, a part of the artwork."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from stopout.job.record import Shows
from stopout.jobs.forms.amounts import Amount
from stopout.jobs.forms.form import Form, WrongValueError
from stopout.jobs.forms.near import meant
from stopout.jobs.forms.plain import TextForm
from stopout.jobs.lines import Path
from stopout.units import shown

# How an id of a table is written.
_ID = "[a-z0-9]+(-[a-z0-9]+)*"


@dataclass(frozen=True, slots=True)
class Named(Form):
    """An id of a table, or a name by which people know its entry; read as the id."""

    table: str

    def read(self, value: Any) -> str:
        # The tables are only read for a job, not for a help text.
        from stopout.tables import canonical, unknown

        word = TextForm(longest=60, like='a name or an id, such as "epoxy-two-part"').read(value)
        ident = canonical(self.table, word)
        # An id that only the shop's own tables know is looked up once they are read.
        if re.fullmatch(_ID, ident) is None:
            raise WrongValueError(str(unknown(self.table, word)))
        return ident

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "minLength": 1, "maxLength": 60}

    def words(self) -> str:
        return "id or name"


@dataclass(frozen=True, slots=True)
class PlaceForm(Form):
    """`"centre"` (read as None) or `{ left = .., bottom = .. }`."""

    each: Amount

    def read(self, value: Any) -> tuple[float, float] | None:
        like = 'write "centre" or { left = "4 mm", bottom = "4 mm" }'
        if value == "centre":
            return None
        if not isinstance(value, dict):
            hint = '; write "centre"' if value in ("center", "middle") else f"; {like}"
            raise WrongValueError(f"{shown(value)} is not a position{hint}")
        strange = [key for key in value if key not in ("left", "bottom")]
        faults: list[tuple[Path, str]] = [
            ((key,), f"is not a key of a position{meant(key, ['left', 'bottom'])}; {like}")
            for key in strange
        ]
        # A key that is only spelt wrong is not told a second time as missing.
        missing = [key for key in ("left", "bottom") if key not in value]
        faults += [((), f"{key} is missing; {like}") for key in missing if not strange]
        read: dict[str, float] = {}
        for key in ("left", "bottom"):
            if key in value:
                try:
                    read[key] = self.each.read(value[key])
                except WrongValueError as wrong:
                    faults += [((key, *at), sentence) for at, sentence in wrong.faults]
        if faults:
            raise WrongValueError(*faults)
        return read["left"], read["bottom"]

    def schema(self) -> dict[str, Any]:
        each = self.each.schema()
        table = {
            "type": "object",
            "properties": {"left": each, "bottom": each},
            "required": ["left", "bottom"],
            "additionalProperties": False,
        }
        return {"anyOf": [{"const": "centre"}, table]}

    def words(self) -> str:
        return '"centre" or { left, bottom }: lengths, as seen'


_SHOWN_LIKE = (
    'write "dark", "rest", { fill = "#e8dcb5" }, { id = "lettering" } or { class = "gold" }'
)

_SHOWN_BY = {
    "fill": r"^(#[0-9A-Fa-f]{6}|#[0-9A-Fa-f]{3}|[A-Za-z]{3,20})$",
    "id": r"^[^\s\"'<>&]{1,120}$",
    "class": r"^[^\s\"'<>&]{1,120}$",
}


@dataclass(frozen=True, slots=True)
class ShownPart(Form):
    """What a coat shows: `"dark"`, `"rest"`, or shapes chosen by fill, id or class."""

    def read(self, value: Any) -> Shows:
        if value in ("dark", "rest"):
            return Shows(kind=value)
        if not isinstance(value, dict) or len(value) != 1:
            raise WrongValueError(f"{shown(value)} is not what a coat can show; {_SHOWN_LIKE}")
        ((kind, chosen),) = value.items()
        if kind not in _SHOWN_BY:
            raise WrongValueError(
                ((kind,), f"is not a way to choose{meant(kind, list(_SHOWN_BY))}; {_SHOWN_LIKE}")
            )
        is_one = isinstance(chosen, str) and re.search(_SHOWN_BY[kind], chosen)
        read = self._plain(kind, chosen) if is_one else None
        if read is None:
            raise WrongValueError(((kind,), f"{shown(chosen)} is not read; {self._like(kind)}"))
        return Shows(kind=kind, value=read)

    def _plain(self, kind: str, chosen: str) -> str | None:
        if kind != "fill":
            return chosen
        from stopout.planning.signs.tints import plain_tint

        return plain_tint(chosen)

    def _like(self, kind: str) -> str:
        if kind != "fill":
            return f'write the {kind} of the artwork\'s shapes, one word, such as "lettering"'
        return 'write the fill as the artwork has it, such as "#e8dcb5", or a CSS colour name'

    def schema(self) -> dict[str, Any]:
        tables = [
            {
                "type": "object",
                "properties": {kind: {"type": "string", "pattern": pattern}},
                "required": [kind],
                "additionalProperties": False,
            }
            for kind, pattern in _SHOWN_BY.items()
        ]
        return {"anyOf": [{"enum": ["dark", "rest"]}, *tables]}

    def words(self) -> str:
        return '"dark", "rest", { fill = "#rrggbb" }, { id } or { class }'
