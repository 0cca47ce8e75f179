"""The job file: TOML in, a validated `Job` out, every mistake with its line; and its schema."""

from stopout.jobs.read import job_error, parse_job, read_job
from stopout.jobs.schema import job_schema

__all__ = ["job_error", "job_schema", "parse_job", "read_job"]
