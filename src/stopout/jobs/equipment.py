"""What the shop keeps by name: machines, paints as sprayed here, trays, limits; put into a job.

Each is a part of the job file that stands in the shop book once. A job names it, and what the job
gives itself wins.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from stopout.errors import Mistake
from stopout.job.shop_numbers import Equipment
from stopout.jobs.checking.checks import machine_faults
from stopout.jobs.forms import Figure, OneOf, Row, TextForm, meant
from stopout.jobs.keys.definition import REQUIRED, GivenTable, Key, KeyTable
from stopout.jobs.keys.machine_table import MACHINE
from stopout.jobs.keys.model import DRY, JOB_FILE, LIMITS, MARK, PAINT, PASSES, POWER, SIDE, SPEED
from stopout.jobs.lines import Path, dotted
from stopout.jobs.syntax import Source
from stopout.jobs.validate import read_alone

# How a paint is cleared belongs together, and to one machine: a job that gives any of it gives all.
_DOSE = ("power", "speed", "passes", "mark")
# What a job gives of a pair is not completed, or contradicted, by the shop's other half.
_PAIRS = (("spot", "spot_means"), ("air_on", "air_off"), ("emitter", "wavelength"))

# fmt: off
SHOP_PAINT = KeyTable(
    "paint",
    "A paint as this shop sprays it, and how one of its machines clears it.",
    Key("paint", REQUIRED, PAINT,
        "The paint: an id of the resists table, or a name for it", example="epoxy-two-part"),
    Key("colour", "black", TextForm(), "Its colour"),
    Key("thickness", None, DRY,
        "The dry thickness; default: the table's", example="25 um",
        find="measure the dry coat on a bare test plate, with a gauge or by its step"),
    Key("machine", None, TextForm(longest=60),
        "The shop's machine that clears it so; needed with the next four", example="bench-laser"),
    Key("power", None, POWER, "The fraction of full power", example="30 %"),
    Key("speed", None, SPEED, "The speed along the lines", example="20 mm/s"),
    Key("passes", None, PASSES, "How often each line is run", example=1),
    Key("mark", None, MARK,
        "The cleared width along x and along y as measured", example=["0.10 mm", "0.087 mm"],
        find="measure it: stopout coupon clearing, and stopout read"),
)

SHOP_TRAY = KeyTable(
    "tray",
    "A tray for baths.",
    Key("size", REQUIRED, Row(SIDE), "Its floor", example=["240 mm", "180 mm"],
        find="measure its floor inside, the shorter side where it narrows"),
)

SHOP_PRICE = KeyTable(
    "price",
    "What the shop counts: for `clearing` or `bath`, or for a paint or an etchant by its id.",
    Key("amount", REQUIRED, Figure(), "How much", example=4.5),
    Key("currency", REQUIRED, TextForm(longest=12), "In what", example="EUR"),
    Key("per", REQUIRED, OneOf(("min", "h", "mL", "L", "g", "kg")), "For how much of it",
        example="kg"),
)
# fmt: on

KINDS: dict[str, KeyTable] = {
    "machine": MACHINE,
    "paint": SHOP_PAINT,
    "tray": SHOP_TRAY,
    "limits": LIMITS,
    "price": SHOP_PRICE,
}


@dataclass(slots=True)
class Equipped:
    """A job file with what it names of the shop put into it.

    `whose` tells for each key that came from the shop which entry it is of. A table in `unknown`
    names what the shop does not have: nothing more can be said of it.
    """

    source: Source
    whose: dict[str, str] = field(default_factory=dict)
    mistakes: list[Mistake] = field(default_factory=list)
    unknown: set[str] = field(default_factory=set)


def equipment_mistakes(kind: str, keys: Mapping[str, Any]) -> list[Mistake]:
    """Find what is wrong with the figures of a machine, a paint, a tray or limits.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    keys : dict
        As a job file would give them.

    Returns
    -------
    list of Mistake
        Without lines; `field` is the key.
    """
    read, faults = read_alone(KINDS[kind], dict(keys))
    if "name" in keys:
        faults.append(Mistake(field="name", message="is given before the figures", line=None))
    if kind == "machine":
        pairs = machine_faults(GivenTable(machine=read), {"machine": keys})
        faults += [Mistake(field=dotted(at[1:]) or kind, message=said) for at, said in pairs]
    cleared = [key for key in _DOSE if key in keys]
    if kind == "paint" and cleared and "machine" not in keys:
        said = "is missing; say which of the shop's machines clears the paint so"
        faults.append(Mistake(field="machine", message=said, line=None))
    if kind == "paint" and cleared and not {"power", "speed"} <= set(keys):
        said = "are given together, or neither"
        faults.append(Mistake(field="power, speed", message=said, line=None))
    return faults


def tray_floor_mm(tray: Equipment) -> tuple[float, float]:
    """The floor of a tray that the shop keeps."""
    width, height = Row(SIDE).read(tray.keys["size"])
    return width, height


def equipped(source: Source, shop: Callable[[], tuple[Equipment, ...]]) -> Equipped:
    """Put what a job names of the shop into its tables.

    Parameters
    ----------
    source : Source
        The job file as read.
    shop : callable
        Gives what the shop keeps; asked only where a job could name any.
    """
    values = copy.deepcopy(source.values)
    for table in JOB_FILE.tables:
        if table.short and isinstance(values.get(table.name), str):
            values[table.name] = {table.short: values[table.name]}
    done = Equipped(source=replace(source, values=values))
    _Shop(done, shop).put_in()
    return done


class _Shop:
    def __init__(self, done: Equipped, shop: Callable[[], tuple[Equipment, ...]]) -> None:
        self.done, self.values, self._shop = done, done.source.values, shop
        self._kept: dict[tuple[str, str], Equipment] | None = None

    @property
    def kept(self) -> dict[tuple[str, str], Equipment]:
        if self._kept is None:
            self._kept = {(one.kind, one.name): one for one in self._shop()}
        return self._kept

    def put_in(self) -> None:
        machine = self._machine()
        self._table("limits")
        bath = self.values.get("bath")
        # What begins with a digit is a length, and one too few.
        named = bath.get("tray") if isinstance(bath, dict) else None
        if isinstance(bath, dict) and isinstance(named, str) and not named[:1].isdigit():
            tray = self._found("tray", named, ("bath", "tray"))
            del bath["tray"]
            if tray is not None:
                self._put(bath, ("bath",), tray, {"tray": tray.keys["size"]})
        clearing = self.values.get("clearing")
        own = (*_DOSE, "dose_ratio")
        is_own = isinstance(clearing, dict) and any(key in clearing for key in own)
        for at, table in self._painted():
            if ("paint", table["paint"]) not in self.kept:
                continue
            paint = self._found("paint", table["paint"], (*at, "paint"))
            if paint is not None:
                self._paint(table, at, paint, "" if is_own else machine)

    def _machine(self) -> str:
        """Put the machine in, and return its name, "" for none of the shop's."""
        table = self.values.get("machine")
        if isinstance(table, dict):
            kept = self._named("machine", table)
            if kept is not None:
                given = set(table)
                halves = {half for pair in _PAIRS if given & set(pair) for half in pair}
                fresh = {key: one for key, one in kept.keys.items() if key not in halves}
                self._put(table, ("machine",), kept, fresh)
                table["name"] = kept.name
                if "machine.emitter" in self.done.whose:
                    self.done.whose["machine.wavelength"] = kept.words
                return kept.name
        return ""

    def _table(self, kind: str) -> None:
        table = self.values.get(kind)
        kept = self._named(kind, table) if isinstance(table, dict) else None
        if kept is not None:
            self._put(table, (kind,), kept, kept.keys)

    def _named(self, kind: str, table: dict[str, Any]) -> Equipment | None:
        """What a table names, its name taken out."""
        name = table.get("name")
        if not isinstance(name, str):
            return None
        found = self._found(kind, name, (kind, "name"))
        del table["name"]
        if found is None:
            # How a paint is cleared hangs on the machine.
            self.done.unknown |= {kind, "clearing"} if kind == "machine" else {kind}
        return found

    def _painted(self) -> Iterator[tuple[Path, dict[str, Any]]]:
        """The tables that name a paint."""
        coats = self.values.get("coat")
        places: list[tuple[Path, Any]] = [(("resist",), self.values.get("resist"))]
        places += [(("coat", k), c) for k, c in enumerate(coats if isinstance(coats, list) else [])]
        for at, table in places:
            if isinstance(table, dict) and isinstance(table.get("paint"), str):
                yield at, table

    def _paint(self, table: dict[str, Any], at: Path, kept: Equipment, machine: str) -> None:
        """Put in the film, and the dose that belongs to the machine."""
        table["paint"] = kept.keys["paint"]
        film = {key: kept.keys[key] for key in ("colour", "thickness") if key in kept.keys}
        self._put(table, at, kept, film)
        dose = {key: kept.keys[key] for key in _DOSE if key in kept.keys}
        is_lit = table.get("method", "laser") == "laser"
        if not dose or kept.keys.get("machine") != machine or not is_lit:
            return
        clearing = self.values.setdefault("clearing", {})
        if at == ("resist",):
            self._put(clearing, ("clearing",), kept, dose)
        elif not any(key in table for key in _DOSE):
            self._put(table, at, kept, dose)
            # What the coats have in common must stand somewhere; each has its own.
            common = {key: dose[key] for key in ("power", "speed")}
            self._put(clearing, ("clearing",), kept, common)

    def _put(self, table: Any, at: Path, kept: Equipment, fresh: Mapping[str, Any]) -> None:
        """Put in what the job does not give itself, and remember whose it is."""
        for key, value in fresh.items():
            if isinstance(table, dict) and key not in table:
                table[key] = copy.deepcopy(value)
                self.done.whose[dotted((*at, key))] = kept.words

    def _found(self, kind: str, name: str, at: Path) -> Equipment | None:
        found = self.kept.get((kind, name))
        if found is None:
            names = [one for what, one in self.kept if what == kind]
            has = f"it has {', '.join(names)}" if names else "it has none, or was left alone"
            hint = meant(name, names) or f"; {has}; keep it with: stopout shop {kind} add {name}"
            self._tell(at, f'"{name}" is no {kind} of the shop book{hint}')
            return None
        # An entry that was imported, or kept by another version, may hold what cannot be.
        faults = equipment_mistakes(kind, found.keys)
        for fault in faults[:1]:
            self._tell(at, f"{found.words} cannot be used: {fault.field}: {fault.message}")
        return None if faults else found

    def _tell(self, at: Path, said: str) -> None:
        line = self.done.source.lines.nearest(at)
        self.done.mistakes.append(Mistake(field=dotted(at), message=said, line=line))
