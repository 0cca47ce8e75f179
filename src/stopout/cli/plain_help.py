"""Help in the words of a bench: no braces about a name, no types where a switch takes no value."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import typer
from typer.core import TyperArgument, TyperCommand, TyperOption

__all__ = ["Commands"]

_BRACKET = re.compile(r"(?<!\\)\[(?=[A-Za-z])")


class _PlainCommand(TyperCommand):
    """A command whose usage line names its arguments as they are."""

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """Return what stands after the command's name."""
        names = []
        for param in self.params:
            if param.param_type_name == "argument":
                name = param.metavar or str(param.name).upper()
                names.append(name if param.required else f"[{name}]")
        return ["[OPTIONS]", *names]

    def get_params(self, ctx: Any) -> Any:
        """Return the parameters; a switch says that it takes nothing."""
        params = super().get_params(ctx)
        for param in params:
            if isinstance(param, TyperOption) and param.is_flag and param.metavar is None:
                param.metavar = ""
            # Words in square brackets are ours and no markup: what is taken where nothing is said.
            if isinstance(param, TyperOption | TyperArgument) and param.help:
                param.help = _BRACKET.sub(r"\\[", param.help)
        return params


class Commands(typer.Typer):
    """A group of commands with that help."""

    def command(self, name: str | None = None, **options: Any) -> Callable[[Any], Any]:
        """Add a command, as `typer.Typer.command` does."""
        options.setdefault("cls", _PlainCommand)
        return super().command(name, **options)
