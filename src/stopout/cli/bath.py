"""`stopout bath`: rate, time, amounts, bath, gas, checks and waste of an etch, without artwork."""

from __future__ import annotations

from dataclasses import replace

import typer

from stopout.cli.asked.options import AS_JSON, REQUIRED, Given, Option, command

# The options that are names of something in a table.
_NAMES = {
    "material": "materials",
    "etchant": "etchants",
    "electrolyte": "electrolytes",
    "resist": "resists",
}
# The groups of the options, as --help shows them.
_ETCH, _PIECES, _BATH = "The etch", "The pieces", "The bath"
_CURRENT, _WAY, _PRINT = "By a current", "On the way", "What is printed"

# A table is read as one: an option in a line or two.
# fmt: off
_OPTIONS = (
    Option("material", "text", "The metal.", REQUIRED, metavar="ID", group=_ETCH),
    Option("etchant", "text", "The etchant, or electrolytic: by a current.", REQUIRED,
           metavar="ID", group=_ETCH),
    Option("depth", "length", "Depth of the etch.", REQUIRED, group=_ETCH),
    Option("strength", "strength", "100g/L, 10% or 40degBe.", group=_ETCH),
    Option("temperature", "temperature", "Left out: 25degC, or the table's reference where it has "
           "no rate at that.", least=-273.15, group=_ETCH),
    Option("agitation", "choice", "How the bath is moved.", "tray",
           choices=("tray", "rocked", "bubbled", "spray"), metavar="KIND", group=_ETCH),
    Option("rate", "rate", "Measured; left out: the table's.", most=1e4, group=_ETCH),
    Option("etch_factor", "number", "Depth / undercut, measured; left out: the table's.",
           most=100.0, group=_ETCH),
    Option("rise", "temperature difference", "How much the bath may warm; left out: 10K, or what "
           "ceiling and resist leave.", group=_ETCH),
    Option("cooled", "switch", "The vessel stands in cold water.", into="is_cooled", group=_BATH),
    Option("area", "area", "Open area of one piece, such as 24cm^2.", REQUIRED,
           into="opening_area_mm2", group=_PIECES),
    Option("edge", "length", "Whole boundary of the openings of one piece.", least=0.0,
           into="opening_edge_mm", group=_PIECES),
    Option("parts", "count", "Parts that the openings have.", "1",
           into="opening_parts", group=_PIECES),
    Option("islands", "count", "Islands of resist within them.", "0", least=0,
           into="opening_islands", group=_PIECES),
    Option("quantity", "count", "Pieces.", "1", group=_PIECES),
    Option("spares", "count", "Pieces etched besides.", "0", least=0, group=_PIECES),
    Option("coupon_area", "area", "Open area of a coupon in the bath.", least=0.0, group=_PIECES),
    Option("size", "size", "Width and height of a piece, such as 100x60 in mm.",
           into="blank_size_mm", group=_PIECES),
    Option("thickness", "length", "Thickness of the blank.", group=_PIECES),
    Option("filled", "switch", "The recesses are filled with paint.",
           into="is_filled", group=_PIECES),
    Option("resist", "text", "The paint, to see if it lasts.", metavar="ID", group=_PIECES),
    Option("tray", "size", "Floor of the tray, such as 200x150 in mm.",
           into="tray_mm", group=_BATH),
    Option("plates_at_once", "count", "Pieces in the tray together.", group=_BATH),
    Option("dissolved", "metal", "Metal in the used bath, such as 6g/L.",
           into="dissolved_g_per_l", group=_BATH),
    Option("volume", "volume", "How much bath there is.", group=_BATH),
    Option("stock", "strength", "Solution that is diluted.", group=_BATH),
    Option("electrolyte", "text", "By a current: the salt of the bath.", metavar="ID",
           group=_CURRENT),
    Option("current", "current", "Of all pieces together: 2A.", group=_CURRENT),
    Option("current_density", "current density", "Per open area: 0.1A/cm^2.", group=_CURRENT),
    Option("voltage", "voltage", "What the supply shows.", group=_CURRENT),
    Option("efficiency", "number", "Share of the current that dissolves metal.", most=1.5,
           group=_CURRENT),
    Option("chromate_acknowledged", "switch", "A licensed carrier takes the chromate of stainless "
           "steel.", into="is_chromate_acknowledged", group=_CURRENT),
    Option("measured_depth", "length", "Depth measured on the way.", group=_WAY),
    Option("after", "time", "When it was measured.", group=_WAY),
    Option("error", "length", "How far that depth may be off.", least=0.0, group=_WAY),
    Option("loss", "mass", "Weight that one piece has lost.", group=_WAY),
    Option("tables", "file", "The shop's own tables, laid over these.", group=_PRINT),
    Option("explain", "switch", "Print each formula with its numbers.", group=_PRINT),
    replace(AS_JSON, group=_PRINT),
)
# fmt: on


def register(app: typer.Typer) -> None:
    """Add the command to the app."""

    @command(app, *_OPTIONS)
    def bath(given: Given) -> None:
        """Plan an etch and its bath without artwork.

        Example: stopout bath --material aluminium --etchant sodium-hydroxide --area 24cm^2
        --edge 900mm --depth 0.06mm --strength 100g/L --temperature 40degC --size 100x60
        """
        if _answered(given):
            raise typer.Exit(1)


def _answered(given: Given) -> bool:
    """Plan and print; tell whether something says stop."""
    from stopout.cli.bathing.answer import print_answer
    from stopout.cli.bathing.question import answer_of
    from stopout.tables import canonical, open_shop_tables, overlaid

    shop = None if given.tables is None else open_shop_tables(given.tables)
    with overlaid(None if shop is None else shop.overlay):
        for option, table in _NAMES.items():
            if getattr(given, option) is not None:
                setattr(given, option, canonical(table, getattr(given, option)))
        fields = {
            option.field: value
            for option in _OPTIONS
            # What is left out is left to the question.
            if option.group not in (_WAY, _PRINT)
            and (value := getattr(given, option.name)) is not None
        }
        answer = answer_of(given, fields)
        print_answer(answer, as_json=given.as_json)
    return answer.answer.is_stopped
