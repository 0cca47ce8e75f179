"""The job file: TOML in, a validated `Job` out, every mistake with its line; and its schema."""

from stopout.jobs.described.listing import JobKey, job_keys
from stopout.jobs.described.schema import job_schema
from stopout.jobs.read import ARTWORK_ENDINGS, job_error, parse_job, read_job

__all__ = [
    "ARTWORK_ENDINGS",
    "JobKey",
    "job_error",
    "job_keys",
    "job_schema",
    "parse_job",
    "read_job",
]
