"""What is wrong with a sign's colours: found on the artwork, the claims and the predicted front."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from stopout.job.record import Coat
from stopout.planning.signs.claims import Claims
from stopout.planning.signs.compare import Comparison, SeenColour
from stopout.planning.signs.tints import like_word, nearest_name, tint_of
from stopout.values import Drawing, Finding

# A coat that shows less than this shows nowhere; less of a gradient than this is an edge.
_NOTHING_MM2 = 0.05
# A larger share of the artwork in tones than this is a picture.
_TONED = 0.02
# What says no more than that there are tones, once that is said.
_FOLLOWERS = frozenset({"sign-tones", "colour-lost", "colour-differs", "coat-unseen"})


def claim_findings(coats: Sequence[Coat], claims: Claims, drawing: Drawing) -> list[Finding]:
    """Findings about what the coats ask for; places as seen.

    Parameters
    ----------
    coats : sequence of Coat
        From the viewer backwards.
    claims : Claims
        What each was given.
    drawing : Drawing
        The artwork on the blank, as seen.
    """
    found = [
        Finding.caution(
            "claims-overlap",
            f"coats {both.first} and {both.second} both name {both.region.area:.2f} mm^2 of "
            f"the artwork; coat {both.first}, {coats[both.first - 1].colour}, gets it",
            "Name that part in one coat only.",
            at_mm=_point(both.region),
        )
        for both in claims.overlaps
    ]
    return [*found, *_tones(drawing), *_unknown_names(coats)]


def _tones(drawing: Drawing) -> list[Finding]:
    toned = [shape for shape in drawing.shapes if shape.is_toned]
    area = sum(float(shape.region.area) for shape in toned)
    if area <= _NOTHING_MM2:
        return []
    largest = max(toned, key=lambda shape: float(shape.region.area))
    return [_toned(f"{area:.2f} mm^2 of the artwork is a gradient", _point(largest.region))]


def _toned(what: str, at_mm: tuple[float, float] | None) -> Finding:
    return Finding.stop(
        "sign-tones",
        f"{what}, and a coat of paint has one tint",
        "Draw it in plain colours, one for each coat.",
        at_mm=at_mm,
    )


def plainly_told(findings: Sequence[Finding]) -> list[Finding]:
    """Put one stop in place of all that a gradient or picture in a sign leads to."""
    tones = [finding for finding in findings if finding.code == "sign-tones"]
    if not tones:
        return list(findings)
    return [
        finding
        for finding in findings
        if finding is tones[0]
        or (finding.code not in _FOLLOWERS and "gradient" not in finding.message)
    ]


def _unknown_names(coats: Sequence[Coat]) -> list[Finding]:
    return [
        Finding.caution(
            "tint-unknown",
            f'no tint is known for coat {number}, "{coat.colour}": it is drawn in the '
            "artwork's own colour and not checked against it",
            f'Give the colour as "#rrggbb", a CSS name or a RAL number{like_word(coat.colour)}.',
        )
        for number, coat in enumerate(coats, start=1)
        if not coat.is_window and tint_of(coat.colour) is None
    ]


def unseen_findings(coats: Sequence[Coat], views: Sequence[BaseGeometry]) -> list[Finding]:
    """Stop where a coat shows nowhere in the predicted front.

    Parameters
    ----------
    coats : sequence of Coat
        From the viewer backwards.
    views : sequence of BaseGeometry
        Where each is seen.
    """
    return [
        Finding.stop(
            "coat-unseen",
            f"coat {number}, {coat.colour}, shows nowhere on the sign: other coats show "
            "all that it asks for",
            f"Take coat {number} out, or let its shows name what it is to show.",
        )
        for number, (coat, view) in enumerate(zip(coats, views, strict=True), start=1)
        if view.area < _NOTHING_MM2
    ]


def colour_findings(coats: Sequence[Coat], compared: Comparison) -> list[Finding]:
    """Stop where a colour of the artwork is not the colour seen; places as seen.

    Parameters
    ----------
    coats : sequence of Coat
        From the viewer backwards.
    compared : Comparison
        The predicted front against the artwork.
    """
    if compared.toned_share > _TONED:
        share = 100 * compared.toned_share
        return [_toned(f"{share:.0f} % of the artwork is in tones, as a picture is", None)]
    return [_finding(row, coats, compared) for row in compared.colours if row.is_wrong]


def _finding(row: SeenColour, coats: Sequence[Coat], compared: Comparison) -> Finding:
    instead = row.instead or 1
    other = coats[instead - 1]
    if row.coats:
        return _partly(row, instead, other, coats)
    if _asks_for(other, row.colour):
        return _other_tint(row, instead, other)
    return Finding.stop(
        "colour-lost",
        f"{row.wrong_mm2:.2f} mm^2 drawn in {_called(row.colour)} is seen as "
        f"{other.colour}: no coat has that colour",
        f'Add a coat with colour = "{row.colour}" and shows = {{ fill = "{row.colour}" }}, or '
        "leave it out of the artwork.",
        at_mm=row.at_mm,
    )


def _partly(row: SeenColour, instead: int, other: Coat, coats: Sequence[Coat]) -> Finding:
    meant = coats[row.coats[0] - 1]
    which = (
        "the bare page"
        if row.colour == "page"
        else f"{_called(row.colour)}, meant for coat {row.coats[0]}, {meant.colour},"
    )
    lost = row.seen_mm2 < 0.02 * row.drawn_mm2
    shown = f'Let coat {row.coats[0]} show it: shows = {{ fill = "{row.colour}" }}'
    if {_kind(meant), _kind(other)} == {"dark", "rest"}:
        # A fill named for one of them would leave nothing for the other.
        ways = {row.coats[0]: _kind(other), instead: _kind(meant)}
        shown = "Let " + " and ".join(f'coat {k} show "{ways[k]}"' for k in sorted(ways))
    remedy = (
        f"{shown}; or, where coat {instead} is to show it in its own "
        f"colour, write recolour = true there."
        if lost and row.colour != "page"
        else "Draw what is too thin wider, use a finer mark, or mend what the coats show."
    )
    return Finding.stop(
        "colour-differs",
        f"{row.wrong_mm2:.2f} mm^2 of {which} is seen as {other.colour}",
        remedy,
        at_mm=row.at_mm,
    )


def _other_tint(row: SeenColour, number: int, coat: Coat) -> Finding:
    return Finding.stop(
        "colour-differs",
        f"coat {number}, {coat.colour}, shows {row.wrong_mm2:.2f} mm^2 that the artwork has "
        f"in {_called(row.colour)}",
        f'Give that coat its colour (colour = "{row.colour}"), or, where the change is meant, '
        "write recolour = true in it.",
        at_mm=row.at_mm,
    )


def _asks_for(coat: Coat, colour: str) -> bool:
    """Tell whether a coat names this colour, or artwork by its id, class or tone."""
    if coat.shows is None or coat.shows.kind == "rest":
        return False
    return coat.shows.kind != "fill" or coat.shows.value == colour


def _kind(coat: Coat) -> str:
    return "" if coat.shows is None else coat.shows.kind


def _called(colour: str) -> str:
    return f"{colour} ({nearest_name(colour)})"


def _point(region: BaseGeometry) -> tuple[float, float]:
    largest = max(shapely.get_parts(region), key=lambda part: float(part.area))
    point = largest.representative_point()
    return (float(point.x), float(point.y))
