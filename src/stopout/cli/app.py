"""The `stopout` command: its subcommands, and how every failure ends.

Exit status: 0 done; 1 done, but a finding says stop; 2 the input was refused, nothing written;
3 could not finish; 130 interrupted.
"""

from __future__ import annotations

import gc
import os
import sys
from functools import cache
from typing import Annotated, Any

import typer

from stopout import __version__
from stopout.cli import (
    bath,
    bench,
    coupon,
    inspect,
    new,
    plan,
    read,
    rework,
    schema,
    sheet,
    spacing,
    table,
    watch,
)
from stopout.cli.keeping import shop
from stopout.cli.limits.bounded import bounded, can_bound, when_interrupted
from stopout.cli.limits.budget import MemoryOption, TimeOption, allow_asked
from stopout.cli.speech.plain_help import Commands
from stopout.cli.speech.telling import say
from stopout.errors import StopoutError

_INTERRUPTED = 130

app = Commands(
    name="stopout",
    help="Plans the clearing and etching of painted plates, and signs behind clear plastic.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _show_version(wanted: bool) -> None:
    if wanted:
        say(f"stopout {__version__}")
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool,
        typer.Option("--version", help="Print the version.", callback=_show_version, is_eager=True),
    ] = False,
    time: TimeOption = None,
    memory: MemoryOption = None,
) -> None:
    """Plans the clearing and etching of painted plates, and signs behind clear plastic.

    It certifies nothing and does not drive the machine: it writes files that a person checks.
    """
    allow_asked(time, memory)


new.register(app)
plan.register(app)
watch.register(app)
bench.register(app)
rework.register(app)
coupon.register(app)
read.register(app)
inspect.register(app)
sheet.register(app)
spacing.register(app)
bath.register(app)
table.register(app)
shop.register(app)
schema.register(app)


def main() -> None:
    """Run the command line within its budget; end with the status the outcome calls for."""
    if can_bound():
        bounded(_run)
    else:
        _run()


def _run() -> None:
    # A plan makes a million small objects and drops few of them: looking for cycles after every
    # 700 of them costs a tenth of the run.
    gc.set_threshold(200_000)
    try:
        # Outside its standalone mode the parser returns the status of a `typer.Exit`.
        status = _command()(standalone_mode=False) or 0
        if status == _INTERRUPTED:
            say(when_interrupted(), to_stderr=True)
        sys.exit(status)
    except (typer.Abort, KeyboardInterrupt):
        say(when_interrupted(), to_stderr=True)
        sys.exit(_INTERRUPTED)
    except StopoutError as error:
        say(str(error), to_stderr=True)
        sys.exit(2)
    except OSError as error:
        name = f"{error.filename}: " if error.filename else ""
        say(
            f"could not finish: {name}{error.strerror or error}; nothing was left half-written",
            to_stderr=True,
        )
        sys.exit(3)
    except MemoryError:
        say(
            "could not finish: the memory is used up; nothing was left half-written", to_stderr=True
        )
        sys.exit(3)
    except Exception as error:
        _end_with_usage_or_fault(error)


@cache
def _command() -> Any:
    """Return the parser of the command line, which takes a tenth of a second to make."""
    return typer.main.get_command(app)


def _end_with_usage_or_fault(error: Exception) -> None:
    """End after a wrong use of the command line (2) or a fault of our own (3)."""
    # The parser's own errors know how to show themselves; which package they live in varies.
    show = getattr(error, "show", None)
    if callable(show):
        show()
        sys.exit(2)
    if os.environ.get("STOPOUT_TRACE"):
        raise error
    say(
        f"internal fault ({type(error).__name__}: {error}); nothing was left half-written. "
        "Run again with STOPOUT_TRACE=1 set for a trace to report.",
        to_stderr=True,
    )
    sys.exit(3)
