"""Help in the words of a bench: no braces about a name, no types where a switch takes no value."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import typer
from typer.core import TyperArgument, TyperCommand, TyperGroup, TyperOption

_BRACKET = re.compile(r"(?<!\\)\[(?=[A-Za-z])")


def _taken(kind: str | None) -> str:
    plain = (kind or "").strip("<>")
    return "NUMBER" if plain in ("int", "float") else plain


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
            if isinstance(param, TyperOption | TyperArgument) and param.help:
                param.help = _BRACKET.sub(r"\\[", param.help)
        return params


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


class _PlainGroup(_Plain, TyperGroup):
    """A group of commands with that help."""


class Commands(typer.Typer):
    """A group of commands with that help."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("cls", _PlainGroup)
        super().__init__(**options)

    def command(self, name: str | None = None, **options: Any) -> Callable[[Any], Any]:
        """Add a command, as `typer.Typer.command` does."""
        options.setdefault("cls", _PlainCommand)
        return super().command(name, **options)
