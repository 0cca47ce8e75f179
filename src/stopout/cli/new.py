"""`stopout new`: a starter job with artwork, ready to plan."""

from __future__ import annotations

from importlib import resources
from pathlib import Path
from typing import Annotated

import typer

from stopout.cli.plain_help import Commands
from stopout.folders import write_folder

_WHAT = {"plate": "an etched plate", "sign": "a sign behind clear plastic"}


def register(app: typer.Typer) -> None:
    """Add the command group to the app."""
    group = Commands(help="Make a starter job with artwork, ready to plan.", no_args_is_help=True)
    for kind, words in _WHAT.items():
        _add(group, kind, words)
    app.add_typer(group, name="new")


def _add(group: typer.Typer, kind: str, words: str) -> None:
    @group.command(
        kind,
        help=f"Make a starter job for {words}.\n\nExample: stopout new {kind} my-{kind}",
    )
    def make(
        folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make; must be new.")],
    ) -> None:
        starter = resources.files("stopout.cli") / "starters" / kind
        files = {item.name: item.read_bytes() for item in starter.iterdir() if item.is_file()}
        write_folder(folder, files, replace_with=None)
        typer.echo(f"{folder / 'job.toml'} is ready; next: stopout plan {folder / 'job.toml'}")
