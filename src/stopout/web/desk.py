"""What the page's answers share: the folder, the processes, the shop book, and one writer a job."""

from __future__ import annotations

import asyncio
from asyncio.subprocess import Process
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from stopout.errors import StopoutError
from stopout.web.drafts import Bench
from stopout.web.place import ChangedError, NoSuchFileError, Place


class BadRequestError(Exception):
    """A request that says nothing that is understood."""


@dataclass(slots=True)
class Past:
    """Texts that a job had, for undo and redo; each with the hash of what followed it."""

    undo: list[tuple[str, str]] = field(default_factory=list)
    redo: list[tuple[str, str]] = field(default_factory=list)


@dataclass(slots=True)
class Desk:
    """What the page's answers share.

    `book` is where the shop book lies or would lie, None where it is left alone. `address` is what
    another device in the network opens, token and all; "" on the loopback.
    """

    place: Place
    bench: Bench
    book: Path | None
    address: str = ""
    readings: dict[str, Process | None] = field(default_factory=dict)
    plans: dict[str, tuple[tuple[int, int], dict[str, Any] | None]] = field(default_factory=dict)
    past: dict[str, Past] = field(default_factory=dict)
    locks: dict[str, asyncio.Lock] = field(default_factory=dict)

    def lock(self, job: str) -> asyncio.Lock:
        """One writer at a time for each job."""
        return self.locks.setdefault(job, asyncio.Lock())

    @property
    def book_to_read(self) -> str | None:
        """The shop book, as soon as there is one."""
        return str(self.book) if self.book is not None and self.book.exists() else None


Answer = Callable[[Desk, Request], Awaitable[Response]]
# A way of the server, what answers there, and whether it changes anything.
Way = tuple[str, Answer, bool]


def over(desk: Desk, answer: Answer) -> Callable[[Request], Awaitable[Response]]:
    """Return an answer that tells every refusal in its words."""

    async def answered(request: Request) -> Response:
        try:
            return await answer(desk, request)
        except NoSuchFileError as fault:
            return JSONResponse({"error": str(fault)}, 404)
        except ChangedError as fault:
            return JSONResponse({"error": str(fault)}, 409)
        except (StopoutError, BadRequestError) as fault:
            return JSONResponse({"error": str(fault)}, 400)

    return answered


async def said_in(request: Request) -> dict[str, Any]:
    """Return the JSON object that a request holds."""
    try:
        said = await request.json()
    except (ValueError, RecursionError):
        raise BadRequestError("the request is no JSON") from None
    if not isinstance(said, dict):
        raise BadRequestError("the request is no JSON object")
    return said
