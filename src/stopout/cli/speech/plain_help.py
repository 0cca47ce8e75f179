"""Help in the words of a bench: no braces about a name, no types where a switch takes no value."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, MutableMapping
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperArgument, TyperCommand, TyperGroup, TyperOption

from stopout.cli.speech.help_page import help_page, page_width

_BRACKET = re.compile(r"(?<!\\)\[(?=[A-Za-z])")


def _taken(kind: str | None) -> str:
    plain = (kind or "").strip("<>")
    return "NUMBER" if plain in ("int", "float") else plain


class _AsTyped:
    """Takes the words of an option as they were typed; none of many are an empty tuple."""

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:
        """Return what was typed."""
        return () if value is None and (param.multiple or param.nargs == -1) else value


class _Plain:
    """Of commands and groups: what their help says of each parameter."""

    def get_params(self, ctx: Any) -> Any:
        """Return the parameters; a switch and a name say no type."""
        params = super().get_params(ctx)  # type: ignore[misc]
        for param in params:
            if isinstance(param, TyperOption) and param.metavar is None:
                param.metavar = "" if param.is_flag else _taken(param.display_type_rich(ctx))
            if isinstance(param, TyperArgument):
                # Its name stands before it; the type of a file's name says nothing more.
                param.display_type_rich = lambda ctx: ""  # type: ignore[method-assign]
            # Words in square brackets are ours and no markup: what is taken where nothing is said.
            if isinstance(param, TyperOption | TyperArgument):
                param.help = _BRACKET.sub(r"\\[", param.help) if param.help else param.help
                # Each option reads its words itself: the library that would is not loaded for it.
                param.get_runtime_param = _AsTyped  # type: ignore[assignment,method-assign]
        return params

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the help text; a terminal too narrow for it takes the parser's own layout."""
        page = help_page(self, ctx, self.listed(ctx), width=page_width())
        if page:
            formatter.write(page)
        else:
            super().format_help(ctx, formatter)  # type: ignore[misc]

    def listed(self, ctx: Any) -> list[tuple[str, str]]:
        """Return name and help of each command of a group."""
        return []


class _PlainCommand(_Plain, TyperCommand):
    """A command whose usage line names its arguments as they are."""

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """Return what stands after the command's name."""
        names = []
        for param in self.params:
            if param.param_type_name == "argument":
                name = param.metavar or str(param.name).upper()
                names.append(name if param.required else f"[{name}]")
        return ["[OPTIONS]", *names]


class Group(_Plain, TyperGroup):
    """A group of commands with that help."""

    def listed(self, ctx: Any) -> list[tuple[str, str]]:
        """Return name and help of each command that is not hidden."""
        found = {name: self.get_command(ctx, name) for name in self.list_commands(ctx)}
        return [
            (name, one.short_help or one.help or "")
            for name, one in found.items()
            if one is not None and not one.hidden
        ]


class LoadedWhenCalled(MutableMapping[str, Any]):
    """Commands by name, of which each is made by its module when it is first asked for.

    Parameters
    ----------
    places : mapping of str to str
        Of each name the module whose `register` makes it.
    """

    def __init__(self, places: Mapping[str, str]) -> None:
        self._places, self._made = dict(places), dict[str, Any]()

    def __getitem__(self, name: str) -> Any:
        if name not in self._made:
            alone = Commands()
            import_module(self._places[name]).register(alone)
            self._made |= typer.main.get_group(alone).commands
        return self._made[name]

    def __setitem__(self, name: str, command: Any) -> None:
        self._made[name] = command

    def __delitem__(self, name: str) -> None:
        del self._places[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)


class Commands(typer.Typer):
    """A group of commands with that help."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("cls", Group)
        super().__init__(**options)

    def command(self, name: str | None = None, **options: Any) -> Callable[[Any], Any]:
        """Add a command, as `typer.Typer.command` does."""
        options.setdefault("cls", _PlainCommand)
        return super().command(name, **options)
