"""`stopout bench`: the page on which jobs are changed and the finished piece is seen at once."""

from __future__ import annotations

import socket
from pathlib import Path

import typer

from stopout.cli.asked.book import asked_book
from stopout.cli.asked.options import BOOK, NO_BOOK, Given, Option, command
from stopout.cli.speech.telling import say
from stopout.errors import StopoutError

# fmt: off
_OPTIONS = (
    Option("folder", "folder", "Where the jobs lie.", ".", metavar="FOLDER", is_argument=True),
    Option("port", "count", "The port; the next free one if it is taken.", "8417", metavar="N"),
    Option("network", "switch", "Let other devices in this network in, with a token in the "
           "address."),
    Option("no_open", "switch", "Open no browser."),
    BOOK, NO_BOOK,
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, *_OPTIONS)
    def bench(given: Given) -> None:
        """Serve a page for the jobs of a folder, until Ctrl-C. It drives no machine.

        Example: stopout bench jobs
        """
        from stopout.records import book_path

        asked_book(given)
        folder, book = given.folder, None if given.no_book else book_path(given.book)
        if not folder.is_dir():
            raise StopoutError(f"there is no folder {folder}; name the one that the jobs lie in")
        _serve(folder, given.port, book, network=given.network, opens=not given.no_open)


def _serve(folder: Path, port: int, book: Path | None, *, network: bool, opens: bool) -> None:
    import uvicorn

    from stopout.web.app import make_app, new_token

    listener = _listener("0.0.0.0" if network else "127.0.0.1", port)
    number = listener.getsockname()[1]
    token = new_token() if network else None
    own = socket.gethostname().lower()
    names = {"127.0.0.1", "localhost", *([_own_address(), own, f"{own}.local"] if network else [])}
    hosts = {f"{name}:{number}" for name in names}
    there = f"http://{_own_address()}:{number}/?token={token}" if network else ""
    app = make_app(folder, hosts=hosts, token=token, book=book, address=there)
    here = f"http://127.0.0.1:{number}/" + (f"?token={token}" if token else "")
    say(f"the jobs of {folder}: {here}")
    if network:
        say(f"on other devices: {there}")
        say(_code(there))
        say(
            "whoever has this address can read and change the jobs of this folder, and read the "
            "shop book and add to it; nothing else"
        )
    say("Ctrl-C ends it")
    if opens:
        typer.launch(here)
    config = uvicorn.Config(app, log_level="error", access_log=False, timeout_keep_alive=15,
                            limit_concurrency=60, h11_max_incomplete_event_size=65536)  # fmt: skip
    uvicorn.Server(config).run(sockets=[listener])
    say("no longer served")


def _listener(host: str, port: int) -> socket.socket:
    """Take the port, or the next free one of a few."""
    for number in range(port, port + 10):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, number))
            # Who opens the address as soon as it is told waits, and is not turned away.
            listener.listen()
        except (OSError, OverflowError):
            listener.close()
        else:
            return listener
    raise StopoutError(f"ports {port} to {port + 9} are taken; give another by --port")


def _own_address() -> str:
    """This machine's address in its network; no packet is sent for that."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def _code(address: str) -> str:
    """The address as a code for a phone's camera, in characters."""
    import io

    import segno

    made = io.StringIO()
    segno.make(address, error="m").terminal(made, compact=True)
    return made.getvalue()
