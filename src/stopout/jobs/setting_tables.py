"""The keys of [[text]], [[line]], [[frame]] and [[code]]: what a job sets without a drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field, create_model

from stopout.job.setting import Align, Anchor, CodeKind
from stopout.jobs.forms import FARTHEST, Amount, Row, Text
from stopout.jobs.table import Table

_ANY_LENGTH = Amount("length", at_least=f"-{FARTHEST}", at_most=FARTHEST)
_At = Annotated[tuple[float, float], Row(_ANY_LENGTH)]
# Capitals below half a millimetre have strokes below any mark; above half a metre they are cut out.
_Cap = Annotated[
    float, Amount("length", at_least="0.2 mm", at_most="1000 mm", usual=("1 mm", "300 mm"))
]
_Width = Annotated[
    float, Amount("length", at_least="0.01 mm", at_most="1000 mm", usual=("0.1 mm", "50 mm"))
]
_Above0 = Annotated[float, Amount("length", above="0 mm", at_most=FARTHEST)]
_From0 = Annotated[float, Amount("length", at_least="0 mm", at_most=FARTHEST)]
_Becomes = Annotated[str, Text(longest=60, like='such as "recessed", "raised" or "cream"')]


def _key(meaning: str, default: Any = ..., *, example: Any = None) -> Any:
    shown = default if example is None else example
    return Field(default, description=meaning, examples=[shown])


if TYPE_CHECKING:

    class _Set(Table):
        """What every element has."""

else:
    # `as` is a word of the language, so that no class body can name the key.
    _Set = create_model(
        "_Set",
        __base__=Table,
        **{
            "as": (
                _Becomes | None,
                _key(
                    "What it becomes: recessed, raised, or the colour of one of a sign's coats; "
                    "default: what the artwork's dark becomes",
                    None,
                    example="raised",
                ),
            )
        },
    )


if TYPE_CHECKING:

    class _From(_Set):
        """A rule's beginning."""

else:
    _From = create_model(
        "_From",
        __base__=_Set,
        **{"from": (_At, _key("Where it begins, as seen", example=["10 mm", "10 mm"]))},
    )


class ArcTable(Table):
    """A circle that words run along; its centre is the text's `at`."""

    radius: _Above0 = _key("Its radius", example="20 mm")
    side: Literal["outside", "inside"] = _key("Where the letters lie", "outside")
    line: Literal["base", "cap"] = _key(
        "Which line of the letters lies on the circle: outside with base and inside with cap read "
        "over the top, the others under the bottom",
        "base",
    )


class FitTable(Table):
    """A width that the longest line of words keeps to."""

    width: _Above0 = _key("The width", example="40 mm")
    way: Literal["shrink", "space", "stretch"] = _key(
        "How: smaller letters where they are too wide, or exactly by the spaces between letters or "
        "by wider or narrower letters",
        "shrink",
    )
    least: _Cap | None = _key(
        "The cap height that shrink does not go below; default: half of cap_height",
        None,
        example="3 mm",
    )


class TextTable(_Set):
    """Words that the job sets itself, over its artwork or alone."""

    words: Annotated[str, Text(longest=2000, kind="text, perhaps of several lines", lines=True)] = (
        _key(
            "What is written; {name} stands for a field of the series, {{ and }} for braces",
            example="Sluice 4",
        )
    )
    cap_height: _Cap = _key("The height of its capitals, by the font's own H", example="5 mm")
    font: Annotated[str, Text(longest=255)] = _key(
        "A family with its weight (Barlow, Barlow Semi Condensed, Barlow Condensed, Cinzel; Thin "
        "to Black), or a font file beside the job",
        "Barlow",
        example="Barlow Condensed Medium",
    )
    at: _At | None = _key(
        "Where its anchor lies from the blank's lower left, as seen; on an arc the circle's "
        "centre; default: the middle of the blank",
        None,
        example=["40 mm", "25 mm"],
    )
    anchor: Anchor = _key(
        "The point of the block that lies there; the block reaches from the first line's cap line "
        "to the last line's base line",
        "centre",
    )
    align: Align | None = _key(
        "How several lines stand; default: as the anchor", None, example="left"
    )
    letter_space: Annotated[
        float, Amount("length", at_least="-10 mm", at_most="100 mm", usual=("-1 mm", "20 mm"))
    ] = _key("Space between letters besides the font's own", "0 mm")
    line_space: _Above0 | None = _key(
        "From base line to base line; default: the font's own", None, example="8 mm"
    )
    rotate: Annotated[float, Amount("angle", at_least="-360 deg", at_most="360 deg")] = _key(
        "Turned against the clock about its anchor, or about the arc's centre", "0 deg"
    )
    arc: ArcTable | None = Field(None)
    fit: FitTable | None = Field(None)


class LineTable(_From):
    """A straight rule with square ends."""

    to: _At = _key("Where it ends", example=["70 mm", "10 mm"])
    width: _Width = _key("Its width", example="0.5 mm")


class FrameTable(_Set):
    """A frame, or without a width a full panel; from the blank's edges, or at its own place."""

    width: _Width | None = _key(
        "The width of its line; left out: a full panel", None, example="0.5 mm"
    )
    margin: _From0 | None = _key(
        "Its outer edge from the blank's edges; instead of at and size", None, example="2 mm"
    )
    at: _At | None = _key("Its lower left corner", None, example=["10 mm", "10 mm"])
    size: (
        Annotated[tuple[float, float], Row(Amount("length", above="0 mm", at_most=FARTHEST))] | None
    ) = _key("Width and height, with at", None, example=["60 mm", "20 mm"])
    corner: Literal["square", "round", "cut", "scooped"] = _key(
        "Its corners; scooped ones are rounded inwards", "square"
    )
    corner_size: _From0 = _key("Radius of its corners, or how far they are cut", "0 mm")


class CodeTable(_Set):
    """A code for machines to read."""

    kind: CodeKind = _key("The kind: squares (qr, data-matrix) or bars (code-128)", "qr")
    content: Annotated[str, Text(longest=2000)] = _key(
        "What it says; {name} stands for a field of the series", example="SLUICE-0147"
    )
    module: Annotated[
        float, Amount("length", at_least="0.02 mm", at_most="100 mm", usual=("0.1 mm", "10 mm"))
    ] = _key("The side of its smallest square, or width of its narrowest bar", example="0.5 mm")
    height: _Above0 | None = _key(
        "The height of bars; default: 15 % of the code's length, at least 5 mm",
        None,
        example="8 mm",
    )
    at: _At | None = _key(
        "Where its anchor lies; default: the middle of the blank", None, example=["65 mm", "12 mm"]
    )
    anchor: Anchor = _key(
        "The point of the code, without its clear zone, that lies there", "centre"
    )
