"""`stopout schema`: the JSON Schema of the job file."""

from __future__ import annotations

from dataclasses import replace

import typer

from stopout.cli.asked.options import AS_JSON, Given, command
from stopout.cli.speech.telling import say_json


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, replace(AS_JSON, help="Taken as elsewhere; the schema is JSON anyway."))
    def schema(given: Given) -> None:
        """Print the JSON Schema of the job file.

        Example: stopout schema > job.schema.json
        """
        from stopout.jobs import job_schema

        say_json(job_schema())
