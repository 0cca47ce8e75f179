"""`stopout schema`: the JSON Schema of the job file."""

from __future__ import annotations

import json

import typer


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @app.command()
    def schema() -> None:
        """Print the JSON Schema of the job file.

        Example: stopout schema > job.schema.json
        """
        from stopout.jobs import job_schema

        typer.echo(json.dumps(job_schema(), indent=2))
