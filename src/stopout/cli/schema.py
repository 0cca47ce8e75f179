"""`stopout schema`: the JSON Schema of the job file."""

from __future__ import annotations

import typer

from stopout.cli.speech.telling import say_json


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @app.command()
    def schema() -> None:
        """Print the JSON Schema of the job file.

        Example: stopout schema > job.schema.json
        """
        from stopout.jobs import job_schema

        say_json(job_schema())
