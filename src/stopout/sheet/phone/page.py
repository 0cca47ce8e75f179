"""The process sheet as one page for a phone at the bench: no network, nothing to install.

The blocks are those of the paper, word for word; what the page adds is places to tick and to type,
timers, and a view of one step at a time. All of it is kept in the browser under a key made from
the sheet itself, so that another revision never inherits ticks.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict
from functools import cache
from html import escape
from importlib import resources

from stopout.sheet.contents.model import (
    Block,
    Box,
    Facts,
    Heading,
    Hold,
    Needs,
    Note,
    Picture,
    Pictures,
    Result,
    Sheet,
    Signatures,
    Signs,
    Sketch,
    Sketches,
    Step,
    Stop,
    Table,
)
from stopout.sheet.drawings.safety_signs import sign_svg

__all__ = ["sheet_page"]

_TITLE = "{job}, revision {revision}: process sheet"
_STOP_TITLE = "STOP: {job}, revision {revision}, must not be worked"


def sheet_page(sheet: Sheet, *, date: str) -> bytes:
    """Make the page.

    Parameters
    ----------
    sheet : Sheet
        What stands on it.
    date : str
        ISO 8601, shown at the top and part of the key under which ticks are kept.

    Returns
    -------
    bytes
        HTML in UTF-8 with its style and script inside; the same bytes for the same input.
    """
    style, script = _ingredients()
    head, key = sheet.header, _key(sheet, date)
    policy = (
        "default-src 'none'; base-uri 'none'; form-action 'none'; "
        f"style-src 'sha256-{_digest(style)}'; script-src 'sha256-{_digest(script)}'"
    )
    words = _STOP_TITLE if sheet.is_stop else _TITLE
    title = escape(words.format(job=head.job, revision=head.revision))
    body = _Body()
    main = (
        body.stop(sheet) if sheet.is_stop else body.work((*sheet.card, *sheet.wall, *sheet.blocks))
    )
    return "".join(
        [
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n',
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n',
            '<meta name="color-scheme" content="light dark">\n',
            f"<title>{title}</title>\n<style>{style}</style>\n</head>\n",
            f'<body data-key="{key}" data-job="{escape(head.job)}" '
            f'data-revision="{escape(head.revision)}" data-date="{escape(date)}">\n',
            _header(sheet, date),
            f'<main id="sheet" tabindex="-1">\n{main}</main>\n',
            "" if sheet.is_stop else _CONTROLS,
            f"<script>{script}</script>\n</body>\n</html>\n",
        ]
    ).encode()


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
    return style, folder.joinpath("page.js").read_text(encoding="utf-8")


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

_CONTROLS = """<section id="keep" aria-labelledby="keep-title">
<h2 id="keep-title">Keep what was written here</h2>
<p>Ticks, times and values are kept in this browser only. Save them when the work is done.</p>
<p class="row"><button type="button" id="save-all">Save ticks and values</button>
<button type="button" id="clear">Clear this sheet</button></p>
<p id="said" role="status"></p>
<label for="text" id="text-label" hidden>If nothing was saved, copy this text:</label>
<textarea id="text" readonly rows="6" hidden></textarea>
</section>
<div id="foot">
<div id="running" role="region" aria-label="Timers that run" hidden></div>
<nav id="walk" aria-label="Steps" hidden>
<button type="button" id="back">Back</button>
<p id="place" aria-live="polite"></p>
<button type="button" id="next" class="main">Done, next</button>
</nav>
</div>
"""


class _Body:
    """Writes blocks as HTML; counts what can be ticked and typed, so that each has its name."""

    def __init__(self) -> None:
        self._count = 0

    def stop(self, sheet: Sheet) -> str:
        """The page that says STOP."""
        return "".join(self._stop(block) for block in sheet.blocks if isinstance(block, Stop))

    def work(self, blocks: Iterable[Block]) -> str:
        """All parts, each under its heading; what leads up to a step is kept with it."""
        pieces: list[str] = []
        waiting: list[str] = []
        stage, is_open, is_stage = "", False, False
        for block in blocks:
            if isinstance(block, Heading):
                pieces += waiting
                waiting = []
                if is_open:
                    pieces.append("</section>\n")
                stage, is_stage = _stage(block), bool(block.letter)
                name = "emergency" if block.text == "In an emergency" else self._name("part")
                pieces.append(
                    f'<section id="{name}" aria-labelledby="{name}-title">\n'
                    f'<h2 id="{name}-title" tabindex="-1">{escape(stage)}</h2>\n'
                )
                is_open = True
            elif isinstance(block, Step | Hold):
                inner = "".join(waiting) + self._of(block)
                waiting = []
                pieces.append(f'<div class="unit" data-stage="{escape(stage)}">\n{inner}</div>\n')
            elif is_stage:
                waiting.append(self._of(block))
            else:
                pieces.append(self._of(block))
        pieces += waiting
        return "".join(pieces) + ("</section>\n" if is_open else "")

    def _of(self, block: Block) -> str:
        match block:
            case Note():
                return self._note(block)
            case Facts():
                return self._facts(block)
            case Pictures():
                return self._pictures(block)
            case Needs():
                return self._needs(block)
            case Box():
                return self._box(block)
            case Step():
                return self._step(block)
            case Hold():
                return self._hold(block)
            case Table():
                return self._table(block)
            case Signatures():
                return self._signatures(block)
            case Result():
                return self._result(block)
            case Signs():
                return self._signs(block.signs)
            case Sketches():
                return f'<div class="pictures">{"".join(map(self._sketch, block.sketches))}</div>\n'
            case Heading() | Stop():
                return ""

    def _name(self, kind: str) -> str:
        self._count += 1
        return f"{kind}-{self._count}"

    def _tick(self, words: str, *, kind: str = "tick") -> str:
        name = self._name(kind)
        return (
            f'<label class="tick" for="{name}"><input type="checkbox" id="{name}" '
            f'data-keep="{name}"><span>{words}</span></label>'
        )

    def _field(self, label: str, unit: str = "", *, hidden: bool = False, of: str = "") -> str:
        """A place to type in; `of` names it in what is saved."""
        name = self._name("value")
        is_number = bool(unit) and "time" not in unit and "date" not in unit
        typed = ' inputmode="decimal"' if is_number else ""
        saved = escape(of or f"{label}, {unit}".strip(", "))
        shown = escape(label) + (f" <small>{escape(unit)}</small>" if unit else "")
        words = ' class="unseen"' if hidden else ""
        return (
            f'<span class="field"><label{words} for="{name}">{shown}</label>'
            f'<input type="text" id="{name}" data-keep="{name}" data-of="{saved}" '
            f'autocomplete="off"{typed}></span>'
        )

    def _note(self, block: Note) -> str:
        if len(block.lines) == 1:
            return f"<p>{escape(block.lines[0])}</p>\n"
        return "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in block.lines) + "</ul>\n"

    def _facts(self, block: Facts) -> str:
        rows = []
        for label, value in block.rows:
            if value:
                rows.append(f"<div><dt>{escape(label)}</dt><dd>{escape(value)}</dd></div>")
            else:
                rows.append(f'<div class="write">{self._field(label)}</div>')
        kind = ' class="strong"' if block.strong else ""
        # A list of terms holds terms only: places to write stand in a plain group.
        tag = "dl" if all(value for _, value in block.rows) else "div"
        if tag == "div":
            rows = [
                row.replace("<dt>", "<b>").replace("</dt>", "</b> ")
                .replace("<dd>", "<span>").replace("</dd>", "</span>")
                for row in rows
            ]  # fmt: skip
            kind = ' class="facts-written"'
        return f"<{tag}{kind}>{''.join(rows)}</{tag}>\n"

    def _pictures(self, block: Pictures) -> str:
        if block.full_size:
            words = "".join(
                f"<p>{escape(picture.title)}. {escape(picture.words)} True size stands on the "
                "paper sheet only: a screen has none.</p>"
                for picture in block.pictures
            )
            return words + "\n"
        return f'<div class="pictures">{"".join(map(self._picture, block.pictures))}</div>\n'

    def _picture(self, picture: Picture) -> str:
        letter = '<span class="letter mirrored">R</span>' if picture.mirrored else (
            '<span class="letter">R</span>'
        )  # fmt: skip
        drawing = picture.svg.replace(
            "<svg ", f'<svg role="img" aria-label="{escape(picture.alt)}" ', 1
        )
        return (
            f"<figure><figcaption><b>{escape(picture.title)}</b>{letter}</figcaption>"
            f"{drawing}<p>{escape(picture.words)}</p></figure>"
        )

    def _needs(self, block: Needs) -> str:
        rows = []
        for need in block.rows:
            words = f"{escape(need.name)} <b>{escape(need.amount)}</b>"
            if need.note:
                words += f"<small>{escape(need.note)}</small>"
            rows.append(f"<li>{self._tick(words, kind='need')}</li>")
        return f'<ul class="needs">{"".join(rows)}</ul>\n'

    def _box(self, block: Box) -> str:
        lines = "".join(
            f"<div><dt>{escape(label)}</dt><dd>{escape(words)}</dd></div>"
            for label, words in block.lines
        )
        name = self._name("box")
        return (
            f'<div role="group" class="box {block.rank}" aria-labelledby="{name}">'
            f'<h3 id="{name}">{escape(block.word)}: {escape(block.title)}</h3>'
            f"{self._signs(block.signs)}<dl>{lines}</dl></div>\n"
        )

    def _signs(self, signs: tuple[tuple[str, str], ...]) -> str:
        """Signs drawn in the page itself, each with its code and words below it."""
        cells = []
        for code, words in signs:
            title = escape(f"{code} {words}")
            drawing = sign_svg(code).replace(
                "<svg ", f'<svg role="img" aria-label="{title}" ', 1
            ).replace(">", f"><title>{title}</title>", 1)  # fmt: skip
            cells.append(f"<li>{drawing}<span><b>{code}</b> {escape(words)}</span></li>")
        return f'<ul class="signs">{"".join(cells)}</ul>\n' if cells else ""

    def _sketch(self, sketch: Sketch) -> str:
        drawing = sketch.svg.replace(
            "<svg ", f'<svg role="img" aria-label="{escape(sketch.alt)}" ', 1
        )
        return (
            f"<figure><figcaption><b>{escape(sketch.title)}</b></figcaption>{drawing}"
            f"<p>{escape(sketch.words)}</p></figure>"
        )

    def _step(self, block: Step) -> str:
        pieces = [
            f'<article class="step" data-step="{block.number}">',
            f'<h3><span class="number">{block.number}</span> {escape(block.text)}</h3>',
        ]
        if block.note:
            pieces.append(f"<p>{escape(block.note)}</p>")
        if block.sets:
            cells = "".join(
                f"<div><dt>SET {escape(label)}</dt><dd>{escape(value)}</dd></div>"
                for label, value in block.sets
            )
            pieces.append(f'<dl class="sets">{cells}</dl>')
        if block.measured:
            cells = "".join(
                self._field(
                    blank.label, blank.unit, of=f"step {block.number}: {blank.label}, {blank.unit}"
                )
                for blank in block.measured
            )
            pieces.append(f'<div class="measured"><b>MEASURED</b> {cells}</div>')
        if block.timer_s is not None:
            pieces.append(self._timer(block))
        pieces.append(self._tick(f"Step {block.number} is done", kind="done"))
        return "".join(pieces) + "</article>\n"

    def _timer(self, block: Step) -> str:
        name = self._name("timer")
        return (
            f'<div class="timer" data-timer="{name}" data-target="{block.timer_s}" '
            f'data-name="step {block.number}: {escape(block.text)}">'
            f'<p class="aim">TIMER <b>{escape(block.timer)}</b></p>'
            f'<p class="clock" aria-hidden="true">0:00</p><p class="word" role="status"></p>'
            '<p class="row"><button type="button" class="main start">Start the timer</button>'
            '<button type="button" class="reset">Set it back</button></p>'
            '<p class="log"></p></div>'
        )

    def _hold(self, block: Hold) -> str:
        checks = "".join(f"<li>{self._tick(escape(check), kind='check')}</li>"
                         for check in block.checks)  # fmt: skip
        signs = "".join(
            self._field(
                f"{f'{k + 1}. ' if block.signatures > 1 else ''}name, date, time",
                of=f"hold {block.number}: signed {k + 1}",
            )
            for k in range(block.signatures)
        )
        return (
            f'<article class="hold" data-hold="{block.number}">'
            f"<h3>HOLD {block.number} before {escape(block.before)}</h3>"
            f'<ul class="needs">{checks}</ul><p>Do not go on until signed.</p>'
            f'<div class="measured">{signs}</div></article>\n'
        )

    def _table(self, block: Table) -> str:
        head = block.columns
        width = len(block.shares)
        rows = [*block.rows, *((("",) * width,) * block.blank_rows)]
        caption = f"<caption>{escape(block.title)}</caption>" if block.title else ""
        top = (
            "<thead><tr>" + "".join(f'<th scope="col">{escape(c)}</th>' for c in head)
            + "</tr></thead>"
            if head
            else ""
        )  # fmt: skip
        lines = []
        for number, row in enumerate(rows, start=1):
            cells = []
            for k, words in enumerate(row):
                label = head[k] if k < len(head) else ""
                mark = f' data-label="{escape(label)}"' if label else ""
                if words or not block.hand:
                    tag = "th" if not head and k == 0 else "td"
                    scope = ' scope="row"' if tag == "th" else ""
                    cells.append(f"<{tag}{scope}{mark}>{escape(words)}</{tag}>")
                else:
                    first = row[0] or f"line {number}"
                    field = self._field(f"{first}: {label}", hidden=True, of=f"{first}: {label}")
                    cells.append(f"<td{mark}>{field}</td>")
            lines.append(f"<tr>{''.join(cells)}</tr>")
        return f"<table>{caption}{top}<tbody>{''.join(lines)}</tbody></table>\n"

    def _signatures(self, block: Signatures) -> str:
        rows = "".join(
            f'<div class="write">{self._field(f"{words}: name, date", of=words)}</div>'
            for words in block.rows
        )
        return f'<div class="facts-written">{rows}</div>\n'

    def _result(self, block: Result) -> str:
        """What was measured, to be saved as a record that a shop book takes."""
        fixed = escape(json.dumps(dict(block.known), sort_keys=True))
        fields = "".join(
            self._field(blank.label, blank.unit, of=f"result: {blank.label}").replace(
                "<input ", f'<input data-result="{blank.key}" ', 1
            )
            for blank in block.asked
        )
        return (
            f'<div class="result" data-known="{fixed}"><div class="measured">{fields}</div>'
            '<p class="row"><button type="button" id="save-record">Save for the shop book</button>'
            f"</p><p>{escape(block.words)}</p></div>\n"
        )

    def _stop(self, block: Stop) -> str:
        reasons = "".join(
            f"<li><p>{escape(reason)}</p>"
            + (f"<p><b>Remedy:</b> {escape(remedy)}</p>" if remedy else "")
            + "</li>"
            for reason, remedy in block.reasons
        )
        more = f"<p>{escape(block.more)}</p>" if block.more else ""
        return (
            '<div class="stop"><p class="stop-word">STOP</p>'
            "<p><b>This job must not be worked as it is planned.</b></p>"
            "<p>No program was written. This page gives nothing to set.</p></div>"
            f"<ol>{reasons}</ol>{more}<p>{escape(block.after)}</p>\n"
        )


def _stage(block: Heading) -> str:
    return f"{block.letter}  {block.text}" if block.letter else block.text
