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
from stopout.cli.limits.bounded import bounded, can_bound, when_interrupted
from stopout.cli.limits.budget import MemoryOption, TimeOption, allow_asked
from stopout.cli.speech.plain_help import Commands, Group, LoadedWhenCalled
from stopout.cli.speech.telling import say
from stopout.errors import StopoutError

_INTERRUPTED = 130

# Of each command its line in the help: to print it, none of their modules is loaded.
_LISTED = {
    "plan": "Plan a job: masks, clearing programs, prediction, etch numbers, process sheet.",
    "watch": "Plan a draft at each save of the job or its artwork, until Ctrl-C.",
    "bench": "Serve a page for the jobs of a folder, until Ctrl-C. It drives no machine.",
    "rework": "Clear part of a plan once more, on the same origin or where a lifted piece lies "
    "now.",
    "read": "Measure a scanned coupon and fit the shop's numbers, each with its uncertainty.",
    "inspect": "Hold a scan of the piece against its plan: what is missing, bare, too wide or "
    "narrow.",
    "sheet": "Print the process sheet of a plan again, on A4 or Letter, and its page for a phone.",
    "spacing": "Compare spacings of fill lines for a spot, and choose one.",
    "bath": "Plan an etch and its bath without artwork.",
    "table": "Show the data tables and where each value comes from.",
    "schema": "Print the JSON Schema of the job file.",
    "new": "Make a starter job with artwork, ready to plan.",
    "coupon": "A test coupon, whose marks are measured to learn the shop's own numbers.",
    "shop": "The shop book: machines, paints, trays, coupons, baths and jobs: your own numbers.",
}
_MODULES = {name: f"stopout.cli.{name}" for name in _LISTED} | {
    "shop": "stopout.cli.keeping.shop",
    # What rework was called before.
    "again": "stopout.cli.rework",
}


class _Whole(Group):
    """All commands; a run loads the module of the one that it calls."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self.commands = LoadedWhenCalled(_MODULES)

    def listed(self, ctx: Any) -> list[tuple[str, str]]:
        return list(_LISTED.items())


app = Commands(
    cls=_Whole,
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
    # No matrix here is worth a second thread; to begin them is a fiftieth of a small plan.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
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
