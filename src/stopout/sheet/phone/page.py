"""The process sheet as one page for a phone at the bench: no network, nothing to install.

The blocks are those of the paper, word for word; what the page adds is places to tick and to type,
clocks that belong to the pieces, sums, and a view of one step at a time. All of it is kept in the
browser under a key made from the sheet itself, so that another revision never inherits ticks.
"""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import asdict
from functools import cache
from html import escape
from importlib import resources

from stopout.sheet.model import Sheet
from stopout.sheet.phone.board import bench_data
from stopout.sheet.phone.body import Body

_TITLE = "{job}, revision {revision}: process sheet"
# One script in four parts, each about one thing; a later one uses the earlier.
_SCRIPTS = ("state.js", "sums.js", "clocks.js", "page.js")
_SENDER = "/page/sending.js"
_STOP_TITLE = "STOP: {job}, revision {revision}, must not be worked"


def sheet_page(sheet: Sheet, *, date: str, sends_to: str = "") -> bytes:
    """Make the page.

    Parameters
    ----------
    sheet : Sheet
        What stands on it.
    date : str
        ISO 8601, shown at the top and part of the key under which ticks are kept.
    sends_to : str
        Where on the server that the page is from a saved record goes by itself; "" for a page that
        is a file, whose record is saved as one.

    Returns
    -------
    bytes
        HTML in UTF-8 with its style and script inside; the same bytes for the same input.
    """
    style, script = _ingredients()
    head, key = sheet.header, _key(sheet, date)
    policy = page_policy(is_served=bool(sends_to))
    served = f' data-sends-to="{escape(sends_to)}"' if sends_to else ""
    words = _STOP_TITLE if sheet.is_stop else _TITLE
    title = escape(words.format(job=head.job, revision=head.revision))
    body = Body(sheet.bench)
    main = body.stop(sheet) if sheet.is_stop else body.work(sheet)
    return "".join(
        [
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n',
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n',
            '<meta name="color-scheme" content="light dark">\n',
            f"<title>{title}</title>\n<style>{style}</style>\n</head>\n",
            f'<body data-key="{key}" data-job="{escape(head.job)}" '
            f'data-revision="{escape(head.revision)}" data-date="{escape(date)}" '
            f'data-bench="{bench_data(sheet.bench)}"{served}>\n',
            _header(sheet, date),
            f'<main id="sheet" tabindex="-1">\n{main}</main>\n',
            "" if sheet.is_stop else _CONTROLS,
            f"<script>{script}</script>\n",
            f'<script type="module" src="{_SENDER}"></script>\n' if sends_to else "",
            "</body>\n</html>\n",
        ]
    ).encode()


def page_policy(*, is_served: bool) -> str:
    """What the page may load: its own style and script; served, also what sends its record."""
    style, script = _ingredients()
    own = " 'self'" if is_served else ""
    return (
        "default-src 'none'; base-uri 'none'; form-action 'none'; "
        f"style-src 'sha256-{_digest(style)}'; script-src 'sha256-{_digest(script)}'{own}"
        + ("; connect-src 'self'" if is_served else "")
    )


def _key(sheet: Sheet, date: str) -> str:
    content = json.dumps({"date": date, "sheet": asdict(sheet)}, sort_keys=True)
    return hashlib.sha256(content.encode()).hexdigest()[:16]


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


@cache
def _ingredients() -> tuple[str, str]:
    """The page's style and script."""
    folder = resources.files("stopout.sheet.phone")
    style = folder.joinpath("page.css").read_text(encoding="utf-8")
    parts = [folder.joinpath(name).read_text(encoding="utf-8") for name in _SCRIPTS]
    return style, '"use strict";\n(function () {\n' + "".join(parts) + "})();\n"


def _header(sheet: Sheet, date: str) -> str:
    head = sheet.header
    facts = (
        f"<span>revision <b>{escape(head.revision)}</b></span> "
        f"<span>quantity <b>{head.quantity}</b></span> "
        f"<span>artwork <b>{escape(head.artwork)}</b></span> "
        f"<span>date <b>{escape(date)}</b></span> <span>{escape(head.tool)}</span>"
    )
    bar = "" if sheet.is_stop else _BAR
    return (
        f'<a class="skip" href="#sheet">To the {"reasons" if sheet.is_stop else "steps"}</a>\n'
        f'<header>\n<h1>{escape(head.job)}</h1>\n<p class="facts">{facts}</p>\n{bar}</header>\n'
    )


_BAR = """<nav aria-label="View">
<button type="button" id="view" aria-pressed="false">One step at a time</button>
<a class="button" href="#emergency">Emergency</a>
<button type="button" id="theme">Dark</button>
</nav>
<p id="progress"></p>
<p id="kept" role="status" hidden></p>
"""

_CONTROLS = """<div id="more" hidden>
<button type="button" id="again">Do it once more</button>
<button type="button" id="skip">Leave it out</button>
</div>
<section id="keep" aria-labelledby="keep-title">
<h2 id="keep-title">Keep what was written here</h2>
<p>Ticks, times and values are kept in this browser only. Save the record when the work is done: one
file with every piece, clock and step.</p>
<p class="row"><button type="button" class="save">Save the record</button>
<button type="button" id="clear">Clear this sheet</button></p>
</section>
<p id="said" role="status"></p>
<label for="text" id="text-label" hidden>If nothing was saved, copy this text:</label>
<textarea id="text" readonly rows="6" hidden></textarea>
<div id="foot">
<div id="running" role="region" aria-label="Clocks that run" hidden></div>
<nav id="walk" aria-label="Steps" hidden>
<button type="button" id="back">Back</button>
<p id="place" aria-live="polite"></p>
<button type="button" id="next" class="main">Done, next</button>
</nav>
</div>
"""
