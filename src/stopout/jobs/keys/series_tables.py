"""The keys of [series] and [panel]: pieces that differ by their fields, and several at once."""

from __future__ import annotations

from stopout.job.series import Counter, Panel, Series
from stopout.jobs.forms import FARTHEST, Amount, Count, GridForm, OneOf, Row, TextForm, YesNo
from stopout.jobs.keys.definition import REQUIRED, Key, KeyTable

_FROM_0 = Amount("length", at_least="0 mm", at_most=FARTHEST, usual=("0 mm", "50 mm"))
_SIDE = Amount("length", at_least="5 mm", at_most=FARTHEST, usual=("20 mm", "1500 mm"))

# A table is read as one: a key in two to five lines, which the formatter would make ten.
# fmt: off

_COUNT = KeyTable(
    "count",
    "Numbers that count up, for the field {number}.",
    Key("number", REQUIRED, Count(100_000), "How many pieces", example=48),
    Key("start", 1, Count(1_000_000_000, at_least=0), "The first number"),
    Key("step", 1, Count(1_000_000), "From one number to the next"),
    Key("digits", 1, Count(12), "Least digits, filled up with noughts", example=4),
    record=Counter,
)

SERIES = KeyTable(
    "series",
    "Pieces that differ by what stands for {name} in words and codes.",
    Key("rows", None,
        TextForm(pattern=r"\.([cC][sS][vV]|[tT][xX][tT]|[tT][sS][vV])$", longest=1000,
             like='the name of a CSV file, such as "tags.csv"', kind="file name: CSV"),
        "A CSV file in UTF-8 beside the job: names of fields in its first row, then a row a piece; "
        "instead of count", example="tags.csv", into="rows_file"),
    Key("key", None, TextForm(longest=60),
        "The column that says each piece's number; default: number, else the row's place",
        example="tag"),
    _COUNT,
    record=Series,
)

PANEL = KeyTable(
    "panel",
    "Several pieces in one program or on one film.",
    Key("size", None, Row(_SIDE),
        "Width and height; default: what the pieces need, up to the machine's bed or the film",
        example=["300 mm", "200 mm"]),
    Key("gap", "3 mm", _FROM_0, "Between pieces"),
    Key("margin", "5 mm", _FROM_0, "Round the outermost pieces"),
    Key("count", None, GridForm(Count(1000)),
        "How many side by side and above each other; instead of fill", example=[6, 8]),
    Key("fill", True, YesNo(), "true: as many on each panel as there is room for", into="fills"),
    Key("loose", False, YesNo(),
        "true: the pieces are blanks of their own, held in a fixture at these places; false: they "
        "are cut from one sheet after the work", into="is_loose"),
    Key("cut_marks", False, YesNo(),
        "true: short lines in the margin, in line with the pieces' edges, to cut them apart by",
        into="has_marks"),
    Key("order", "near", OneOf(("near", "apart")),
        "The way the beam takes: near travels least, apart leaves every second piece for a second "
        "round, so that heat spreads"),
    record=Panel,
)
