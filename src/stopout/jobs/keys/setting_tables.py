"""The keys of [[text]], [[line]], [[frame]] and [[code]]: what a job sets without a drawing."""

from __future__ import annotations

from typing import get_args

from stopout.job.setting import (
    Align,
    Anchor,
    Arc,
    CodeKind,
    Fit,
    SetCode,
    SetFrame,
    SetLine,
    SetText,
)
from stopout.jobs.forms import ANY_MM, FARTHEST, Amount, OneOf, Row, TextForm
from stopout.jobs.keys.definition import REQUIRED, Key, KeyTable

_AT = Row(ANY_MM)
# Capitals below half a millimetre have strokes below any mark; above half a metre they are cut out.
_CAP = Amount("length", at_least="0.2 mm", at_most="1000 mm", usual=("1 mm", "300 mm"))
_WIDTH = Amount("length", at_least="0.01 mm", at_most="1000 mm", usual=("0.1 mm", "50 mm"))
_ABOVE_0 = Amount("length", above="0 mm", at_most=FARTHEST)
_FROM_0 = Amount("length", at_least="0 mm", at_most=FARTHEST)

# A table is read as one: a key in two to five lines, which the formatter would make ten.
# fmt: off

_AS = Key("as", None, TextForm(longest=60, like='such as "recessed", "raised" or "cream"'),
    "What it becomes: recessed, raised, or the colour of one of a sign's coats; default: what the "
    "artwork's dark becomes", example="raised", into="becomes")

_ARC = KeyTable(
    "arc",
    "A circle that words run along; its centre is the text's `at`.",
    Key("radius", REQUIRED, _ABOVE_0, "Its radius", example="20 mm"),
    Key("side", "outside", OneOf(("outside", "inside")), "Where the letters lie"),
    Key("line", "base", OneOf(("base", "cap")),
        "Which line of the letters lies on the circle: outside with base and inside with cap read "
        "over the top, the others under the bottom"),
    record=Arc,
)

_FIT = KeyTable(
    "fit",
    "A width that the longest line of words keeps to.",
    Key("width", REQUIRED, _ABOVE_0, "The width", example="40 mm"),
    Key("way", "shrink", OneOf(("shrink", "space", "stretch")),
        "How: smaller letters where they are too wide, or exactly by the spaces between letters or "
        "by wider or narrower letters"),
    Key("least", None, _CAP,
        "The cap height that shrink does not go below; default: half of cap_height",
        example="3 mm"),
    record=Fit,
)

TEXT = KeyTable(
    "text",
    "Words that the job sets itself, over its artwork or alone.",
    _AS,
    Key("words", REQUIRED,
        TextForm(longest=2000, kind="text, perhaps of several lines", lines=True),
        "What is written; {name} stands for a field of the series, {{ and }} for braces",
        example="Sluice 4"),
    Key("cap_height", REQUIRED, _CAP,
        "The height of its capitals, by the font's own H", example="5 mm"),
    Key("font", "Barlow", TextForm(longest=255),
        "A family with its weight (Barlow, Barlow Semi Condensed, Barlow Condensed, Cinzel; Thin "
        "to Black), or a font file beside the job", example="Barlow Condensed Medium"),
    Key("at", None, _AT,
        "Where its anchor lies from the blank's lower left, as seen; on an arc the circle's "
        "centre; default: the middle of the blank", example=["40 mm", "25 mm"]),
    Key("anchor", "centre", OneOf(get_args(Anchor)),
        "The point of the block that lies there; the block reaches from the first line's cap line "
        "to the last line's base line"),
    Key("align", None, OneOf(get_args(Align)),
        "How several lines stand; default: as the anchor", example="left"),
    Key("letter_space", "0 mm",
        Amount("length", at_least="-10 mm", at_most="100 mm", usual=("-1 mm", "20 mm")),
        "Space between letters besides the font's own"),
    Key("line_space", None, _ABOVE_0,
        "From base line to base line; default: the font's own", example="8 mm"),
    Key("rotate", "0 deg", Amount("angle", at_least="-360 deg", at_most="360 deg"),
        "Turned against the clock about its anchor, or about the arc's centre", into="turn_deg"),
    _ARC,
    _FIT,
    record=SetText, into="texts", is_many=True,
)

LINE = KeyTable(
    "line",
    "A straight rule with square ends.",
    _AS,
    Key("from", REQUIRED, _AT, "Where it begins, as seen", example=["10 mm", "10 mm"]),
    Key("to", REQUIRED, _AT, "Where it ends", example=["70 mm", "10 mm"]),
    Key("width", REQUIRED, _WIDTH, "Its width", example="0.5 mm"),
    record=SetLine, into="lines", is_many=True,
)

FRAME = KeyTable(
    "frame",
    "A frame, or without a width a full panel; from the blank's edges, or at its own place.",
    _AS,
    Key("width", None, _WIDTH, "The width of its line; left out: a full panel", example="0.5 mm"),
    Key("margin", None, _FROM_0,
        "Its outer edge from the blank's edges; instead of at and size", example="2 mm"),
    Key("at", None, _AT, "Its lower left corner", example=["10 mm", "10 mm"]),
    Key("size", None, Row(_ABOVE_0), "Width and height, with at", example=["60 mm", "20 mm"]),
    Key("corner", "square", OneOf(("square", "round", "cut", "scooped")),
        "Its corners; scooped ones are rounded inwards"),
    Key("corner_size", "0 mm", _FROM_0,
        "Radius of its corners, or how far they are cut", into="corner_mm"),
    record=SetFrame, into="frames", is_many=True,
)

CODE = KeyTable(
    "code",
    "A code for machines to read.",
    _AS,
    Key("kind", "qr", OneOf(get_args(CodeKind)),
        "The kind: squares (qr, data-matrix) or bars (code-128)"),
    Key("content", REQUIRED, TextForm(longest=2000),
        "What it says; {name} stands for a field of the series", example="SLUICE-0147"),
    Key("module", REQUIRED,
        Amount("length", at_least="0.02 mm", at_most="100 mm", usual=("0.1 mm", "10 mm")),
        "The side of its smallest square, or width of its narrowest bar", example="0.5 mm"),
    Key("height", None, _ABOVE_0,
        "The height of bars; default: 15 % of the code's length, at least 5 mm", example="8 mm"),
    Key("at", None, _AT, "Where its anchor lies; default: the middle of the blank",
        example=["65 mm", "12 mm"]),
    Key("anchor", "centre", OneOf(get_args(Anchor)),
        "The point of the code, without its clear zone, that lies there"),
    record=SetCode, into="codes", is_many=True,
)
