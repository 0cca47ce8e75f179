"""Who may ask: this machine's own page, or whoever holds the token; and how much."""

from __future__ import annotations

import asyncio
import hmac
import time
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

_COOKIE = "stopout_bench"
_MOST_BYTES, _MOST_S = 60_000_000, 600.0
# Scripts, styles and pictures of the page itself and nothing else; no frame, no form elsewhere.
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; font-src 'self'; form-action 'self'; frame-ancestors 'none'; "
    "base-uri 'none'"
)
_HEADERS = (
    (b"content-security-policy", _POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)


class Guard:
    """Stands before the application.

    Parameters
    ----------
    app : ASGI application
        What it guards.
    hosts : set of str
        The names and ports under which the page may be asked for, as the Host header has them;
        with a token also each address in numbers that reaches this machine.
    token : str or None
        What the address holds where others on the network may ask; None on the loopback.
    """

    def __init__(self, app: App, *, hosts: set[str], token: str | None) -> None:
        self.app, self.hosts, self.token = app, hosts, token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = _headers(scope)
        fault = self._fault(scope, headers)
        if fault is not None:
            await _answer(send, *fault)
            return
        extra = list(_HEADERS)
        if self.token is not None and self._in_address(scope):
            extra.append(
                (
                    b"set-cookie",
                    f"{_COOKIE}={self.token}; HttpOnly; SameSite=Strict; Path=/".encode(),
                )
            )

        async def sent(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                own = {name for name, _ in message.get("headers", [])}
                more = [pair for pair in extra if pair[0] not in own]
                message = {**message, "headers": [*message.get("headers", []), *more]}
            await send(message)

        await self.app(scope, _bounded(receive), sent)

    def _fault(self, scope: Scope, headers: dict[bytes, bytes]) -> tuple[int, str] | None:
        host = headers.get(b"host", b"").decode("latin-1").lower()
        if host not in self.hosts and not self._is_own(scope, host):
            return 421, "this page is not served under that name"
        if self.token is not None and not self._is_known(scope, headers):
            return 403, "the address lacks its token; take it from the terminal"
        if scope["method"] not in ("GET", "HEAD"):
            origin = headers.get(b"origin", b"").decode("latin-1").lower()
            if origin != f"http://{host}":
                return 403, "only the page itself may change anything"
        try:
            if int(headers.get(b"content-length", b"0")) > _MOST_BYTES:
                return 413, f"more than {_MOST_BYTES // 1_000_000} MB are not taken"
        except ValueError:
            return 400, "the length is no number"
        return None

    def _is_own(self, scope: Scope, host: str) -> bool:
        """Where others are let in, the machine's own number that was called is a name of it."""
        name, port = scope.get("server") or ("", 0)
        return self.token is not None and host == f"{name}:{port}"

    def _in_address(self, scope: Scope) -> bool:
        asked = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("token", [""])
        return self._is_token(asked[0])

    def _is_known(self, scope: Scope, headers: dict[bytes, bytes]) -> bool:
        if self._in_address(scope):
            return True
        try:
            cookie = SimpleCookie(headers.get(b"cookie", b"").decode("latin-1"))
        except CookieError:
            return False
        return _COOKIE in cookie and self._is_token(cookie[_COOKIE].value)

    def _is_token(self, said: str) -> bool:
        return self.token is not None and hmac.compare_digest(said.encode(), self.token.encode())


def _headers(scope: Scope) -> dict[bytes, bytes]:
    found: dict[bytes, bytes] = {}
    for name, value in scope["headers"]:
        # Two of a kind say two things; neither is believed.
        found[name.lower()] = b"\0twice" if name.lower() in found else value
    return found


def _bounded(receive: Receive) -> Receive:
    """Stop listening to a body that is longer than it may be, or too slow to come."""
    taken, is_whole, begun = 0, False, time.monotonic()

    async def received() -> MutableMapping[str, Any]:
        nonlocal taken, is_whole
        # What comes after the body is the end of the connection, however long an answer lasts.
        rest_s = None if is_whole else max(0.0, begun + _MOST_S - time.monotonic())
        try:
            message = await asyncio.wait_for(receive(), rest_s)
        except TimeoutError:
            return {"type": "http.disconnect"}
        is_whole = not message.get("more_body", False)
        taken += len(message.get("body", b""))
        if taken > _MOST_BYTES:
            return {"type": "http.disconnect"}
        return message

    return received


async def _answer(send: Send, status: int, words: str) -> None:
    body = words.encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), *_HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
