"""The error tree. Every error a person can cause is a `StopoutError` with one clear sentence.

StopoutError (ValueError)
├── UnitError         a quantity that cannot be read
├── JobError          mistakes in a job file, all of them at once
├── ArtworkError      artwork that cannot be read faithfully
├── TableError        a table entry that is missing or lacks a source
├── PlanError         a job that cannot be planned
├── ProgramError      a clearing program that could not be proven safe
├── CouponError       a coupon that cannot be laid out, read or fitted
├── BookError         a shop book that is damaged, newer, in use, or has no such entry
└── OutputError       a folder that exists, a disk that is full
"""

from __future__ import annotations

from dataclasses import dataclass

from stopout.wording import measurable


class StopoutError(ValueError):
    """Base of all errors that a person can cause or mend."""

    def __str__(self) -> str:
        return measurable(super().__str__())


class UnitError(StopoutError):
    """A quantity that cannot be read: what was written and what would be right."""


class ArtworkError(StopoutError):
    """Artwork that cannot be read faithfully."""


class TableError(StopoutError):
    """A table entry that is missing, unreadable or without a source."""


class PlanError(StopoutError):
    """A job that cannot be planned at all (not: one whose plan says stop).

    `at` is the path of the job file's key it hangs on, such as ("coat", 1, "shows"); list elements
    count from 0. Empty where it hangs on none.
    """

    def __init__(self, message: str, *, at: tuple[str | int, ...] = ()) -> None:
        super().__init__(message)
        self.at = at


class ProgramError(StopoutError):
    """A clearing program that is malformed or could not be proven safe."""


class CouponError(StopoutError):
    """A coupon that cannot be laid out on its blank, or whose description or scan is unfit."""


class BookError(StopoutError):
    """A shop book that cannot be used: damaged, newer, busy, read-only, or without that entry."""


class BookClosedError(BookError):
    """The shop book cannot be used now: in use, protected, damaged or newer."""


class OutputError(StopoutError):
    """An output folder that exists already or cannot be written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """One mistake in a job file.

    `line` counts from 1; None where the mistake is something left out of the file altogether.
    `field` is the dotted path (`clearing.speed`, `blank.hole[2].diameter`).
    """

    field: str
    message: str
    line: int | None = None


class JobError(StopoutError):
    """All mistakes of one job file together."""

    def __init__(self, file: str, mistakes: tuple[Mistake, ...]) -> None:
        super().__init__(file, mistakes)
        self.file = file
        self.mistakes = mistakes

    def __str__(self) -> str:
        lines = []
        for mistake in self.mistakes:
            where = self.file if mistake.line is None else f"{self.file}:{mistake.line}"
            lines.append(f"{where}: {mistake.field}: {measurable(mistake.message)}")
        return "\n".join(lines)
