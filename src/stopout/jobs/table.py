"""What all tables of the job file have in common."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

__all__ = ["Table"]


class Table(BaseModel):
    """Base of the tables: nothing but the keys named, each assignment validated."""

    model_config = ConfigDict(extra="forbid", strict=True, validate_assignment=True)
