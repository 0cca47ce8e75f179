"""The job file: TOML in, a validated `Job` out, every mistake with its line; and its schema."""

from stopout.jobs.listing import JobKey, job_keys
from stopout.jobs.read import job_error, parse_job, read_job
from stopout.jobs.schema import job_schema

__all__ = ["JobKey", "job_error", "job_keys", "job_schema", "parse_job", "read_job"]
