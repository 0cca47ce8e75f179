"""The blocks of the sheet as HTML, word for word those of the paper, parted into screens."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape

from stopout.sheet.drawings.safety_signs import sign_svg
from stopout.sheet.model import (
    BenchSums,
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
from stopout.sheet.phone.board import board, piece_fields, piece_table, record_panel, sums
from stopout.sheet.phone.screens import CLOCKED, Unit, paged, units_of

_EMERGENCY = "In an emergency"
# How the line at the head of a stage begins that says what is worn and what is met again.
_WORN = ("Wear", "Dangers", "The boxes")
# Acts whose places to write belong to the pieces, or to a clock, or are calculated.
_BY_PIECE = ("weigh-before", "weigh-after", "depth")


class Body:
    """Writes blocks as HTML; counts what can be ticked and typed, so that each has its name."""

    def __init__(self, bench: BenchSums | None = None) -> None:
        self._count = 0
        self._screen = 0
        self._bench = bench
        self._has_board = False

    def stop(self, sheet: Sheet) -> str:
        """The page that says STOP."""
        return "".join(self._stop(block) for block in sheet.blocks if isinstance(block, Stop))

    def work(self, sheet: Sheet) -> str:
        """All parts, each under its heading, those that are worked through parted into screens."""
        wall = _parts(sheet.wall)
        card = sheet.card
        if card and not isinstance(card[0], Heading):
            card = (Heading(text="What it is"), *card)
        # The verdict stands first, here as on the terminal.
        cards = sorted(_parts(card), key=lambda part: not _is_verdict(part))
        parts = [*cards, *wall, *_parts(sheet.blocks)]
        kinds = [
            "looked-up" if any(part is one for one in wall) else _kind(part, parts)
            for part in parts
        ]
        pieces = 0 if self._bench is None else sum(len(lane.pieces) for lane in self._bench.lanes)
        units = [
            units_of(part[1:], pieces=pieces)
            for part, kind in zip(parts, kinds, strict=True)
            if kind == "stage"
        ]
        others = len(set(kinds) - {"stage", "looked-up"})
        screens = iter(zip(units, paged(units, other=others), strict=True))
        written, was = [], ""
        for part, kind in zip(parts, kinds, strict=True):
            if kind == "stage":
                written.append(self._stage(part, *next(screens)))
            else:
                # What is read before the work is one screen, and so is what is ready at hand.
                self._screen += kind not in ("looked-up", was)
                written.append(self._part(part, kind))
            was = was if kind == "looked-up" else kind
        return "".join(written)

    def _part(self, part: Sequence[Block], kind: str) -> str:
        inner = "".join(self._of(block) for block in part[1:])
        mark = "" if kind == "looked-up" else f' data-screen="{self._screen}"'
        tag = f'<div class="{"looked-up" if not mark else "unit"}"{mark}>'
        return self._section(part[0], f"{tag}\n{inner}</div>\n")

    def _stage(self, part: Sequence[Block], units: list[Unit], screens: list[list[int]]) -> str:
        boxes = [block for block in part if isinstance(block, Box)]
        pieces = []
        for number, screen in enumerate(screens):
            self._screen += 1
            for place, k in enumerate(screen):
                inner = "".join(self._of(block) for block in units[k].blocks)
                shows = any(isinstance(block, Box) for j in screen for block in units[j].blocks)
                if units[k].is_clocked and not self._has_board and self._bench is not None:
                    self._has_board = True
                    inner = board(self._bench, coupon=False, field=self._field) + inner
                if place == 0 and number > 0 and not shows:
                    inner = _reminder(boxes, _worn(part)) + inner
                pieces.append(f'<div class="unit" data-screen="{self._screen}">\n{inner}</div>\n')
        return self._section(part[0], "".join(pieces))

    def _section(self, heading: Block, inner: str) -> str:
        assert isinstance(heading, Heading)
        name = "emergency" if heading.text == _EMERGENCY else self._name("part")
        return (
            f'<section id="{name}" aria-labelledby="{name}-title">\n'
            f'<h2 id="{name}-title" tabindex="-1">{escape(_title(heading))}</h2>\n'
            f"{inner}</section>\n"
        )

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

    def _tick(self, words: str, *, kind: str = "tick", keep: str = "") -> str:
        name = self._name(kind)
        return (
            f'<label class="tick" for="{name}"><input type="checkbox" id="{name}" '
            f'data-keep="{keep or name}"><span>{words}</span></label>'
        )

    def _field(
        self, label: str, unit: str = "", *, hidden: bool = False, of: str = "", keep: str = ""
    ) -> str:
        """A place to type in; `of` names it in what is saved, `keep` in what is calculated."""
        name = self._name("value")
        is_number = bool(unit) and "time" not in unit and "date" not in unit
        typed = ' inputmode="decimal"' if is_number else ""
        saved = escape(of or f"{label}, {unit}".strip(", "))
        shown = escape(label) + (f" <small>{escape(unit)}</small>" if unit else "")
        words = ' class="unseen"' if hidden else ""
        return (
            f'<span class="field"><label{words} for="{name}">{shown}</label>'
            f'<input type="text" id="{name}" data-keep="{keep or name}" data-of="{saved}" '
            f'autocomplete="off"{typed}></span>'
        )

    def _note(self, block: Note) -> str:
        if len(block.lines) == 1:
            return f"<p>{_said(block.lines[0])}</p>\n"
        return "<ul>" + "".join(f"<li>{_said(line)}</li>" for line in block.lines) + "</ul>\n"

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
            f"<div><dt>{escape(label)}</dt><dd>{_said(words)}</dd></div>"
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
            f'<article class="step" data-step="{block.number}" data-act="{block.act}"'
            f"{' data-optional' if block.optional else ''}>",
            f'<h3><span class="number">{block.number}</span> {escape(block.text)}</h3>',
        ]
        if block.note:
            pieces.append(f"<p>{_said(block.note)}</p>")
        if block.sets:
            cells = "".join(
                f"<div><dt>SET {escape(label)}</dt><dd>{escape(value)}</dd></div>"
                for label, value in block.sets
            )
            pieces.append(f'<dl class="sets">{cells}</dl>')
        pieces.append(self._to_write(block))
        pieces.append(sums(block) if self._bench is not None else "")
        is_clocked = self._bench is not None and block.act in (*CLOCKED, "coupon-etch")
        if block.act == "coupon-etch" and self._bench is not None:
            pieces.append(board(self._bench, coupon=True, field=self._field))
        if block.timer_s is not None and not is_clocked:
            pieces.append(self._timer(block))
        elif block.timer_s is not None:
            pieces.append(f'<p class="aim">TIMER <b>{escape(block.timer)}</b></p>')
        pieces.append(self._tick(f"Step {block.number} is done", kind="done"))
        return "".join(pieces) + "</article>\n"

    def _to_write(self, block: Step) -> str:
        """The places to write of a step; where a clock or a piece owns them, they stand there."""
        if self._bench is not None and block.act in _BY_PIECE:
            words = "; ".join(f"{blank.label}, {blank.unit}" for blank in block.measured)
            fields = piece_fields(block, self._bench, self._field)
            return f'<p class="on-paper">On paper: {escape(words)}</p>{fields}'
        if self._bench is not None and block.act in CLOCKED and block.measured:
            words = "; ".join(f"{blank.label}, {blank.unit}" for blank in block.measured)
            return f'<p class="on-paper">Written at each clock above: {escape(words)}</p>'
        if not block.measured:
            return ""
        cells = "".join(
            self._field(
                blank.label,
                blank.unit,
                of=f"step {block.number}: {blank.label}, {blank.unit}",
                keep=f"{block.act}.{k}" if block.act else "",
            )
            for k, blank in enumerate(block.measured)
        )
        return f'<div class="measured"><b>MEASURED</b> {cells}</div>'

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
        if self._bench is not None and block.hand and head and head[0] == "Piece":
            return piece_table(block, self._bench, self._tick, self._field)
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
        return record_panel(block, self._field)

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


def _worn(part: Sequence[Block]) -> str:
    """What the head of a stage says is worn there, and which dangers it meets again."""
    lines = (block.lines[0] for block in part if isinstance(block, Note))
    return next((line for line in lines if line.startswith(_WORN)), "")


def _reminder(boxes: Sequence[Box], worn: str) -> str:
    """The dangers of a stage in a line, in full where they are asked for, and what is worn."""
    if not boxes and not worn:
        return ""
    inner = f"<p>{escape(worn)}</p>" if worn else ""
    if boxes:
        word = next((box.word for box in boxes if box.rank == "danger"), boxes[0].word)
        titles = "; ".join(dict.fromkeys(box.title for box in boxes))
        lines = "".join(
            f"<div><dt>{escape(label)}</dt><dd>{escape(text)}</dd></div>"
            for box in boxes
            for label, text in box.lines
        )
        said = f"<b>{escape(word)}:</b> {escape(titles)}"
        inner = f"<details><summary>{said}</summary><dl>{lines}</dl></details>{inner}"
    return f'<div class="reminder">{inner}</div>\n'


def _is_verdict(part: Sequence[Block]) -> bool:
    head = part[0]
    return isinstance(head, Heading) and head.text.startswith("Verdict")


def _parts(blocks: Iterable[Block]) -> list[list[Block]]:
    """The blocks under each heading, the heading first."""
    parts: list[list[Block]] = []
    for block in blocks:
        if isinstance(block, Heading) or not parts:
            parts.append([])
        parts[-1].append(block)
    return parts


def _kind(part: Sequence[Block], parts: Sequence[Sequence[Block]]) -> str:
    """What a part is: a stage, looked up, or read before, made ready before, recorded after."""
    heading = part[0]
    assert isinstance(heading, Heading)
    if heading.letter:
        return "stage"
    if heading.text == _EMERGENCY:
        return "looked-up"
    stages = [k for k, one in enumerate(parts) if isinstance(one[0], Heading) and one[0].letter]
    at = next(k for k, one in enumerate(parts) if one is part)
    if stages and at < stages[0]:
        needs = [k for k, one in enumerate(parts) if any(isinstance(b, Needs) for b in one)]
        return "ready" if needs and at >= needs[0] else "card"
    is_written = any(
        isinstance(block, Result | Signatures)
        or (isinstance(block, Table) and block.hand and block.columns[:1] == ("Piece",))
        for block in part
    )
    return "record" if is_written else "looked-up"


def _title(block: Heading) -> str:
    return f"{block.letter}  {block.text}" if block.letter else block.text


def _said(words: str) -> str:
    """Words in which no option of a command is broken after its first hyphen."""
    return re.sub(r"--[a-z-]+", r'<span class="whole">\g<0></span>', escape(words))
