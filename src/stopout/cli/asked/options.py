"""An option of a command, defined once: what it takes, its range, its help and its default.

A command that is added here gets its options read: quantities as numbers in the base unit, sizes
as width and height, with one sentence for what cannot be. Nothing heavy is loaded for a help text.
"""

from __future__ import annotations

import datetime
import inspect
import math
from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Annotated, Any

import typer

from stopout.cli.asked.sizes import parse_size_mm
from stopout.cli.speech.telling import say
from stopout.errors import StopoutError, UnitError
from stopout.units import QUANTITIES, format_number, parse_quantity, parse_strength

REQUIRED: Any = object()

# What stands for the value in a help text, where it is not the kind itself in capitals.
_METAVARS = {
    "current density": "DENSITY",
    "temperature difference": "DIFFERENCE",
    "wavelength": "LENGTH",
    "resolution": "DPI",
    "size": "WxH",
    "count": "NUMBER",
    "file": "FILE",
    "folder": "DIR",
    "metal": "G/L",
}


class Given(SimpleNamespace):
    """The options of a run as they were read, by their names."""


@dataclass(frozen=True, slots=True)
class Option:
    """An option, or an argument.

    Attributes
    ----------
    name : str
        `edge_angle` is `--edge-angle`, unless `flag` says otherwise.
    kind : str
        A quantity of `units.QUANTITIES`, or `number`, `count`, `size`, `strength`, `metal` (grams
        per litre), `choice`, `date`, `file`, `folder`, `text`, or `switch`.
    default : Any
        As typed, `REQUIRED`, or None for what may be left out.
    above, least, most : float
        The range, in the base unit; `least` is possible itself, `above` is not.
    choices : tuple of str
        The words of a choice.
    into : str
        The field of a record, where it is not the name with its unit at the end.
    """

    name: str
    kind: str
    help: str
    default: Any = None
    _: KW_ONLY
    group: str | None = None
    above: float = 0.0
    least: float | None = None
    most: float = 1e9
    choices: tuple[str, ...] = ()
    metavar: str = ""
    flag: str = ""
    into: str = ""
    is_argument: bool = False
    is_many: bool = False

    @property
    def field(self) -> str:
        """The field of a record that takes its value."""
        end = QUANTITIES[self.kind].name_end if self.kind in QUANTITIES else ""
        return self.into or self.name + (end if self.kind != "strength" else "")

    def read(self, typed: Any) -> Any:
        """What was typed, as the command takes it; None where nothing was.

        Raises
        ------
        StopoutError
            In one sentence with the option's name.
        """
        if self.is_many:
            return [self._read(one) for one in typed or ()]
        return None if typed is None and self.kind != "date" else self._read(typed)

    def _read(self, typed: Any) -> Any:
        special: dict[str, Callable[[Any], Any]] = {
            "size": lambda text: parse_size_mm(self._flag, text),
            "strength": self._strength,
            "metal": self._metal,
            "choice": self._choice,
            "date": self._date,
            "count": self._count,
            "file": Path,
            "folder": Path,
        }
        if self.kind in special:
            return special[self.kind](typed)
        if self.kind == "number" or self.kind in QUANTITIES:
            return self._number(typed)
        return typed

    def _number(self, typed: str) -> float:
        try:
            if self.kind == "number":
                value, unit = float(typed), ""
            else:
                value, unit = parse_quantity(typed, self.kind)[0], QUANTITIES[self.kind].unit
        except UnitError as error:
            raise UnitError(f"{self._flag}: {error}") from None
        except ValueError:
            raise StopoutError(f"{self._flag} {typed!r} is not a number") from None
        if value >= 1e9 and self.most >= 1e9:
            raise UnitError(
                f"{self._flag}: {typed} is more than any shop has; check the number and unit"
            )
        low = self.above if self.least is None else self.least
        is_above = value > low if self.least is None else value >= low
        if not math.isfinite(value):
            raise StopoutError(f"{self._flag} {typed!r} is not a number")
        if not (is_above and value <= self.most):
            raise UnitError(f"{self._flag}: {typed} is not possible; give {self._range(low, unit)}")
        return value

    def _range(self, low: float, unit: str) -> str:
        scale = 100.0 if unit == "%" else 1.0
        high = f"{format_number(self.most * scale)} {unit}".rstrip()
        if self.least is not None:
            least = format_number(low * scale)
            return (
                f"{least} to {high}" if self.most < 1e9 else f"{least} {unit}".rstrip() + " or more"
            )
        plain = "nothing" if low == 0 else f"{format_number(low * scale)} {unit}".rstrip()
        return f"more than {plain}" + (f", at most {high}" if self.most < 1e9 else "")

    def _count(self, typed: str) -> int:
        least = 1 if self.least is None else int(self.least)
        most = 100_000 if self.most >= 1e9 else int(self.most)
        try:
            value = int(typed)
        except ValueError:
            value = least - 1
        if not least <= value <= most:
            raise StopoutError(
                f"{self._flag} is {typed}; give a whole number from {least} to {most}"
            )
        return value

    def _strength(self, typed: str) -> tuple[float, str]:
        try:
            value, unit = parse_strength(typed)
        except UnitError as error:
            raise UnitError(f"{self._flag}: {error}") from None
        if not 0.0 <= value < 1e4:
            raise UnitError(f"{self._flag}: {typed} is no strength; give 100g/L, 10% or 40degBe")
        return value, unit

    def _metal(self, typed: str) -> float:
        value, unit = self._strength(typed)
        if unit != "g/L":
            raise UnitError(f"{self._flag}: {typed} is no metal per litre; give it as 6g/L")
        return value

    def _choice(self, typed: str) -> str:
        word = next((one for one in self.choices if one.lower() == typed.lower()), None)
        if word is None:
            raise StopoutError(f"{self._flag}: {typed!r} is none of {', '.join(self.choices)}")
        return word

    def _date(self, typed: str | None) -> str:
        if typed is None:
            return datetime.date.today().isoformat()
        try:
            return datetime.date.fromisoformat(typed).isoformat()
        except ValueError:
            raise StopoutError(
                f'{self._flag} {typed!r}: a date is written year-month-day, such as "2026-11-20"'
            ) from None

    @property
    def _flag(self) -> str:
        if self.is_argument:
            return self.metavar
        return self.flag or f"--{self.name.replace('_', '-')}"

    def parameter(self) -> inspect.Parameter:
        """The parameter of the command's function that the parser of words makes it from."""
        kind: Any = {"switch": bool, "file": Path, "folder": Path}.get(self.kind, str)
        taken = list[kind] if self.is_many else kind
        if self.is_argument:
            mark: Any = typer.Argument(metavar=self.metavar, help=self.help)
        else:
            listed = "|".join(self.choices) or self.kind.upper()
            metavar = self.metavar or _METAVARS.get(self.kind, listed)
            mark = typer.Option(
                self._flag,
                metavar=None if self.kind == "switch" else metavar,
                help=self.help,
                rich_help_panel=self.group,
            )
        is_open = self.default is None and self.kind != "switch"
        default = inspect.Parameter.empty if self.default is REQUIRED else self.default
        return inspect.Parameter(
            self.name,
            inspect.Parameter.KEYWORD_ONLY,
            annotation=Annotated[taken | None if is_open else taken, mark],
            default=False if self.kind == "switch" else default,
        )


def command(
    app: typer.Typer, *options: Option, name: str | None = None, once: str = ""
) -> Callable[[Callable[[Given], None]], None]:
    """Add a command to an app: its help, and these options; called as the function, or by name.

    `once` is what it was called before: that works still, is not listed, and says so.
    """

    def add(run: Callable[[Given], None]) -> None:
        def called(**typed: Any) -> None:
            run(Given(**{option.name: option.read(typed[option.name]) for option in options}))

        def renamed(**typed: Any) -> None:
            now = f"stopout {run.__name__}; use that name."
            say(f"note: stopout {once} is now {now}", to_stderr=True)
            called(**typed)

        for one in (called, renamed):
            one.__name__, one.__doc__ = run.__name__, run.__doc__
            one.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
                [option.parameter() for option in options]
            )
        app.command(name)(called)
        if once:
            app.command(once, hidden=True)(renamed)

    return add


BOOK = Option("book", "file", "The shop book. [STOPOUT_BOOK, else the usual place for user data]")
NO_BOOK = Option("no_book", "switch", "Leave the shop book alone, as if there were none.")
TIME = Option("time", "text", "The most computing time. [120s, or the job's]", metavar="TIME")
MEMORY = Option("memory", "text", "The most memory. [4GiB, or the job's]", metavar="SIZE")
JOB = Option("job", "file", "The job file.", REQUIRED, metavar="JOB.toml", is_argument=True)
QUIET = Option("quiet", "switch", "Print nothing but errors.")
AS_JSON = Option("as_json", "switch", "Print as JSON on standard output.", flag="--json")
