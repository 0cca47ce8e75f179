"""The command line: argv, terminal, clock and exit codes."""

from stopout.cli.app import main

__all__ = ["main"]
