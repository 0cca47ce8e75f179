"""`stopout bath`: rate, time, amounts, bath, gas, checks and waste of an etch, without artwork."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

__all__ = ["register"]

# The groups of the options, as --help shows them.
_ETCH = "The etch"
_PIECES = "The pieces"
_BATH = "The bath"
_CURRENT = "By a current"
_WAY = "On the way"
_PRINT = "What is printed"
# The options that are names of something in a table.
_NAMES = {
    "material": "materials",
    "etchant": "etchants",
    "electrolyte": "electrolytes",
    "resist": "resists",
}


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @app.command()
    def bath(
        *,
        material: Annotated[
            str, typer.Option(metavar="ID", help="The metal.", rich_help_panel=_ETCH)
        ],
        etchant: Annotated[
            str,
            typer.Option(
                metavar="ID",
                help="The etchant, or electrolytic: by a current.",
                rich_help_panel=_ETCH,
            ),
        ],
        depth: Annotated[
            str, typer.Option(metavar="LENGTH", help="Depth of the etch.", rich_help_panel=_ETCH)
        ],
        strength: Annotated[
            str | None,
            typer.Option(metavar="STRENGTH", help="100g/L, 10% or 40degBe.", rich_help_panel=_ETCH),
        ] = None,
        temperature: Annotated[
            str | None,
            typer.Option(
                metavar="TEMPERATURE",
                help="Left out: 25degC, or the table's reference where it has no rate at that.",
                rich_help_panel=_ETCH,
            ),
        ] = None,
        agitation: Annotated[
            str,
            typer.Option(
                metavar="KIND", help="tray, rocked, bubbled or spray.", rich_help_panel=_ETCH
            ),
        ] = "tray",
        rate: Annotated[
            str | None,
            typer.Option(
                metavar="RATE", help="Measured; left out: the table's.", rich_help_panel=_ETCH
            ),
        ] = None,
        etch_factor: Annotated[
            float | None,
            typer.Option(
                help="Depth / undercut, measured; left out: the table's.", rich_help_panel=_ETCH
            ),
        ] = None,
        rise: Annotated[
            str | None,
            typer.Option(
                metavar="DIFFERENCE",
                help="How much the bath may warm; left out: 10K, or what its ceiling leaves.",
                rich_help_panel=_ETCH,
            ),
        ] = None,
        cooled: Annotated[
            bool,
            typer.Option(
                "--cooled", help="The vessel stands in cold water.", rich_help_panel=_BATH
            ),
        ] = False,
        area: Annotated[
            str,
            typer.Option(
                metavar="AREA",
                help="Open area of one piece, such as 24cm^2.",
                rich_help_panel=_PIECES,
            ),
        ],
        edge: Annotated[
            str | None,
            typer.Option(
                metavar="LENGTH",
                help="Whole boundary of the openings of one piece.",
                rich_help_panel=_PIECES,
            ),
        ] = None,
        parts: Annotated[
            int, typer.Option(help="Parts that the openings have.", rich_help_panel=_PIECES)
        ] = 1,
        islands: Annotated[
            int, typer.Option(help="Islands of resist within them.", rich_help_panel=_PIECES)
        ] = 0,
        quantity: Annotated[int, typer.Option(help="Pieces.", rich_help_panel=_PIECES)] = 1,
        spares: Annotated[
            int, typer.Option(help="Pieces etched besides.", rich_help_panel=_PIECES)
        ] = 0,
        coupon_area: Annotated[
            str | None,
            typer.Option(
                metavar="AREA", help="Open area of a coupon in the bath.", rich_help_panel=_PIECES
            ),
        ] = None,
        size: Annotated[
            str | None,
            typer.Option(
                metavar="WxH",
                help="Width and height of a piece: 100x60 (mm) or 100mm,60mm.",
                rich_help_panel=_PIECES,
            ),
        ] = None,
        thickness: Annotated[
            str | None,
            typer.Option(metavar="LENGTH", help="Thickness of the blank.", rich_help_panel=_PIECES),
        ] = None,
        filled: Annotated[
            bool,
            typer.Option(
                "--filled", help="The recesses are filled with paint.", rich_help_panel=_PIECES
            ),
        ] = False,
        resist: Annotated[
            str | None,
            typer.Option(
                metavar="ID", help="The paint, to see if it lasts.", rich_help_panel=_PIECES
            ),
        ] = None,
        tray: Annotated[
            str | None,
            typer.Option(metavar="WxH", help="Floor of the tray: 200x150.", rich_help_panel=_BATH),
        ] = None,
        plates_at_once: Annotated[
            int | None, typer.Option(help="Pieces in the tray together.", rich_help_panel=_BATH)
        ] = None,
        dissolved: Annotated[
            str | None,
            typer.Option(
                metavar="G/L", help="Metal in the used bath, such as 6g/L.", rich_help_panel=_BATH
            ),
        ] = None,
        volume: Annotated[
            str | None,
            typer.Option(metavar="VOLUME", help="How much bath there is.", rich_help_panel=_BATH),
        ] = None,
        stock: Annotated[
            str | None,
            typer.Option(
                metavar="STRENGTH", help="Solution that is diluted.", rich_help_panel=_BATH
            ),
        ] = None,
        electrolyte: Annotated[
            str | None,
            typer.Option(
                metavar="ID", help="By a current: the salt of the bath.", rich_help_panel=_CURRENT
            ),
        ] = None,
        current: Annotated[
            str | None,
            typer.Option(
                metavar="CURRENT", help="Of all pieces together: 2A.", rich_help_panel=_CURRENT
            ),
        ] = None,
        current_density: Annotated[
            str | None,
            typer.Option(
                metavar="DENSITY", help="Per open area: 0.1A/cm^2.", rich_help_panel=_CURRENT
            ),
        ] = None,
        voltage: Annotated[
            str | None,
            typer.Option(
                metavar="VOLTAGE", help="What the supply shows.", rich_help_panel=_CURRENT
            ),
        ] = None,
        efficiency: Annotated[
            float | None,
            typer.Option(
                help="Share of the current that dissolves metal.", rich_help_panel=_CURRENT
            ),
        ] = None,
        chromate_acknowledged: Annotated[
            bool,
            typer.Option(
                "--chromate-acknowledged",
                help="A licensed carrier takes the chromate of stainless steel.",
                rich_help_panel=_CURRENT,
            ),
        ] = False,
        measured_depth: Annotated[
            str | None,
            typer.Option(metavar="LENGTH", help="Depth measured on the way.", rich_help_panel=_WAY),
        ] = None,
        after: Annotated[
            str | None,
            typer.Option(metavar="TIME", help="When it was measured.", rich_help_panel=_WAY),
        ] = None,
        error: Annotated[
            str | None,
            typer.Option(
                metavar="LENGTH", help="How far that depth may be off.", rich_help_panel=_WAY
            ),
        ] = None,
        loss: Annotated[
            str | None,
            typer.Option(
                metavar="MASS", help="Weight that one piece has lost.", rich_help_panel=_WAY
            ),
        ] = None,
        tables: Annotated[
            Path | None,
            typer.Option(
                metavar="FILE",
                help="The shop's own tables, laid over these.",
                rich_help_panel=_PRINT,
            ),
        ] = None,
        explain: Annotated[
            bool,
            typer.Option(
                "--explain", help="Print each formula with its numbers.", rich_help_panel=_PRINT
            ),
        ] = False,
        as_json: Annotated[
            bool,
            typer.Option(
                "--json", help="Print as JSON on standard output.", rich_help_panel=_PRINT
            ),
        ] = False,
    ) -> None:
        """Plan an etch and its bath without artwork.

        Example: stopout bath --material aluminium --etchant sodium-hydroxide --area 24cm^2
        --edge 900mm --depth 0.06mm --strength 100g/L --temperature 40degC --size 100mm,60mm
        """
        # The options are the fields of `Asked`, by name; a test keeps the two alike.
        given = dict(locals())
        if _answered(given, tables=given.pop("tables"), as_json=given.pop("as_json")):
            raise typer.Exit(1)


def _answered(given: dict[str, Any], *, tables: Path | None, as_json: bool) -> bool:
    """Plan and print; tell whether something says stop."""
    from stopout.cli.bathing.answer import print_answer
    from stopout.cli.bathing.asked import Asked
    from stopout.cli.bathing.question import answer_of
    from stopout.tables import canonical, open_shop_tables, overlaid

    shop = None if tables is None else open_shop_tables(tables)
    with overlaid(None if shop is None else shop.overlay):
        for option, table in _NAMES.items():
            if given[option] is not None:
                given[option] = canonical(table, given[option])
        answer = answer_of(Asked(**given), tables)
        print_answer(answer, as_json=as_json)
    return answer.answer.is_stopped
