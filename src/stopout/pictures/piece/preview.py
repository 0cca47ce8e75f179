"""The preview: as seen, as worked, and the outcome with its deviations, on one sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from itertools import groupby

from stopout.pictures.means.drawing import (
    GREY,
    PALE,
    Frame,
    line,
    picture,
    scale_bar,
    text,
    typeset,
)
from stopout.pictures.means.fonts import text_width, wrapped
from stopout.pictures.means.render import drawn_png
from stopout.pictures.piece import coats, panels
from stopout.pictures.piece.deviations import (
    OffRing,
    rings,
    severity,
    thinnest_place,
    told_in_full,
    worst_place,
)
from stopout.pictures.piece.marks import badge, told_numbers
from stopout.pictures.piece.scene import CloseUp, PreviewScene

# The picture is laid out in units of which it is so many wide, and drawn in fewer pixels: a screen
# shows no more of them, and on A4 they make 140 dpi. What they cost goes with their number.
WIDTH_PX = 2400
DRAWN_PX = 1200
_MARGIN = 80.0
_GAP = 80.0
_RIGHT = WIDTH_PX - _MARGIN
_LEFT_PX = 1500.0  # of the lower row: the outcome and the list
_MOST_LISTED = 14
_IN_A_ROW = 3  # coats of a sign


def preview_png(scene: PreviewScene) -> bytes:
    """Render the preview as a PNG, 1200 pixels wide and as high as needed.

    Parameters
    ----------
    scene : PreviewScene
        What to show; regions as worked, in mm.

    Returns
    -------
    bytes
        A PNG; the same scene gives the same bytes.
    """
    return drawn_png(preview_svg(scene), width_px=DRAWN_PX)


def preview_svg(scene: PreviewScene) -> str:
    """The preview as SVG text whose fonts and pixel size `preview_png` supplies."""
    worst = scene.worst or worst_place(scene)
    thinnest = scene.thinnest or thinnest_place(
        scene.target, elsewhere_than=worst, least_mm=scene.least_stroke_mm
    )
    places = [place for place in (worst, thinnest) if place is not None]
    ringed = rings(scene)
    sheet = _Sheet(y=_MARGIN)
    _header(sheet, scene)
    _verdict(sheet, scene, ringed)
    _upper_row(sheet, scene)
    _coat_rows(sheet, scene)
    _lower_row(sheet, scene, ringed, places)
    _lists(sheet, scene, ringed)
    height = round(sheet.y + _MARGIN / 2)
    return picture(WIDTH_PX, height, [panels.DEFINITIONS, *sheet.pieces])


@dataclass(slots=True)
class _Sheet:
    """What has been drawn so far, and how far down."""

    y: float
    pieces: list[str] = field(default_factory=list)

    def add(self, *pieces: str) -> None:
        self.pieces += pieces


def _header(sheet: _Sheet, scene: PreviewScene) -> None:
    headline, *lines = scene.title or ("Plan",)
    sheet.add(text(headline, _MARGIN, sheet.y + 38, size=54, weight=600))
    if lines:
        sheet.add(text("  ·  ".join(lines), _MARGIN, sheet.y + 84, size=28, fill=GREY))
    sheet.add(line((_MARGIN, sheet.y + 112), (_RIGHT, sheet.y + 112), stroke_width=3))
    sheet.y += 160


def _verdict(sheet: _Sheet, scene: PreviewScene, ringed: tuple[OffRing, ...]) -> None:
    """What the plan comes to, and what to act on first, with the rings that show it."""
    headline = scene.headline
    if not headline:
        return
    colour = panels.OUTSIDE if scene.state == "stopped" else "#000000"
    for row in wrapped(headline, width=_RIGHT - _MARGIN, size=44, weight=600):
        sheet.add(text(row, _MARGIN, sheet.y + 12, size=44, weight=600, fill=colour))
        sheet.y += 58
    fulls = (*scene.verdict_in_full, *[""] * len(scene.verdict))
    for words, full in zip(scene.verdict, fulls, strict=False):
        rows = wrapped(typeset(words), width=_RIGHT - _MARGIN - 90, size=28)
        shown = [ring.number for ring in ringed if full and ring.message.endswith(full)]
        sheet.add(
            badge(_MARGIN + 30, sheet.y - 8, told_numbers(shown))
            if shown
            else text("–", _MARGIN + 30, sheet.y, size=28, weight=600, anchor="middle")
        )
        for row in rows:
            sheet.add(text(row, _MARGIN + 90, sheet.y, size=28))
            sheet.y += 38
    sheet.add(line((_MARGIN, sheet.y), (_RIGHT, sheet.y), stroke_width=3))
    sheet.y += 48


def _upper_row(sheet: _Sheet, scene: PreviewScene) -> None:
    """As seen and as worked, side by side at the same scale."""
    if scene.drawn is not None:
        _customers_row(sheet, scene)
        return
    width = (_RIGHT - _MARGIN - _GAP) / 2
    second = _MARGIN + width + _GAP
    seen_note, worked_note = _orientation(scene)
    seen = _caption(sheet, _MARGIN, width, "As seen", seen_note)
    of = f": coat {scene.coats[0].number}, {scene.coats[0].colour}" if scene.coats else ""
    worked = _caption(sheet, second, width, f"As worked{of}", worked_note)
    top = sheet.y + max(seen, worked) + 56
    frame = _fit(scene, _MARGIN, top, width, 900.0)
    sheet.add(panels.as_seen(scene, frame))
    frame = _fit(scene, second, top, width, 900.0)
    sheet.add(panels.as_worked(scene, frame))
    bottom = top + frame.height_px
    sheet.add(scale_bar(frame.left_px + frame.width_px, bottom + 30, frame.px_per_mm, width / 5))
    sheet.y = bottom + 96
    if scene.front_view:
        sheet.add(coats.colour_key(scene, _MARGIN, sheet.y - 40))
        sheet.y += 20


def _customers_row(sheet: _Sheet, scene: PreviewScene) -> None:
    """A sign's artwork and its front side by side: what the customer says yes to."""
    width = (_RIGHT - _MARGIN - _GAP) / 2
    second = _MARGIN + width + _GAP
    heads = [
        _caption(sheet, _MARGIN, width, "As drawn", "The artwork, as its file shows it."),
        _caption(
            sheet,
            second,
            width,
            "As seen",
            "The predicted front, read through the sheet. Tints are for the screen: no colour "
            "match.",
        ),
    ]
    top = sheet.y + max(heads) + 56
    frame = _fit(scene, _MARGIN, top, width, 900.0)
    sheet.add(coats.drawn(scene, frame))
    frame = _fit(scene, second, top, width, 900.0)
    sheet.add(panels.as_seen(scene, frame))
    bottom = top + frame.height_px
    sheet.add(scale_bar(frame.left_px + frame.width_px, bottom + 30, frame.px_per_mm, width / 5))
    sheet.y = bottom + 96
    sheet.add(coats.colour_key(scene, _MARGIN, sheet.y - 40))
    sheet.y += 20


def _coat_rows(sheet: _Sheet, scene: PreviewScene) -> None:
    """Each later coat of a sign as worked, and the front where a clearing misses."""
    cells: list[tuple[str, str, Callable[[Frame], str]]] = [
        (
            f"Coat {coat.number}: {coat.colour}",
            coat.note,
            partial(coats.coat_as_worked, scene, coat),
        )
        for coat in scene.coats[1:]
    ]
    if scene.drawn is not None:
        of = f": coat {scene.coats[0].number}, {scene.coats[0].colour}" if scene.coats else ""
        cells.insert(
            0, (f"As worked{of}", _orientation(scene)[1], partial(panels.as_worked, scene))
        )
    if scene.missed_view:
        view = scene.missed_view
        cells.append(
            (
                "At the worst miss",
                f"{scene.missed_note} Thin lines part colours alike in grey; the sign has none.",
                partial(coats.parted_front, scene, view),
            )
        )
    width = (_RIGHT - _MARGIN - (_IN_A_ROW - 1) * _GAP) / _IN_A_ROW
    for start in range(0, len(cells), _IN_A_ROW):
        row = cells[start : start + _IN_A_ROW]
        lefts = [_MARGIN + k * (width + _GAP) for k in range(len(row))]
        heads = [
            _caption(sheet, left, width, name, note)
            for left, (name, note, _) in zip(lefts, row, strict=True)
        ]
        top = sheet.y + max(heads) + 30
        frames = [_fit(scene, left, top, width, 700.0) for left in lefts]
        sheet.add(*(draw(frame) for frame, (_, _, draw) in zip(frames, row, strict=True)))
        sheet.y = top + frames[0].height_px + 70


def _lower_row(
    sheet: _Sheet, scene: PreviewScene, ringed: tuple[OffRing, ...], places: list[CloseUp]
) -> None:
    """The outcome, and beside it up to two enlargements."""
    width = _LEFT_PX if places else _RIGHT - _MARGIN
    note = _outcome_note(scene, len(places))
    top = sheet.y + _caption(sheet, _MARGIN, width, f"Outcome{scene.outcome_of}", note) + 56
    frame = _fit(scene, _MARGIN, top, width, 1100.0)
    sheet.add(panels.outcome(scene, frame, ringed, places))
    bottom = top + frame.height_px
    sheet.add(scale_bar(frame.left_px + frame.width_px, bottom + 30, frame.px_per_mm, width / 5))
    left = _MARGIN + width + _GAP
    side_bottom = _enlargements(sheet, scene, places, left, max(bottom + 62 - sheet.y, 800.0))
    has_tolerance = scene.edge_tolerance_mm > 0 and bool(places)
    sheet.y = max(bottom + 62, side_bottom + 34)
    sheet.add(
        panels.legend(_MARGIN, sheet.y, has_tolerance=has_tolerance, lit=bool(scene.lit_edge))
    )
    sheet.y += 84


def _enlargements(
    sheet: _Sheet, scene: PreviewScene, places: list[CloseUp], left: float, room: float
) -> float:
    """Draw the enlargements one below the other; return where they end."""
    width, y = _RIGHT - left, sheet.y
    height = min(room / 2 - 66, 0.8 * width)
    for letter, place in zip("AB", places, strict=False):
        sheet.add(text(letter, left, y + 26, size=32, weight=600))
        sheet.add(text(place.caption, left + 34, y + 26, size=26))
        px_per_mm = width / place.span_mm
        frame = Frame(
            left_px=left,
            top_px=y + 44,
            px_per_mm=px_per_mm,
            width_mm=place.span_mm,
            height_mm=height / px_per_mm,
            x_mm=place.at_mm[0] - place.span_mm / 2,
            y_mm=place.at_mm[1] - height / px_per_mm / 2,
        )
        sheet.add(panels.enlargement(scene, frame, f"window{letter}"))
        y += 44 + height + 44
    return y - 44 if places else sheet.y


def _lists(sheet: _Sheet, scene: PreviewScene, ringed: tuple[OffRing, ...]) -> None:
    """What the rings point at and the other findings on the left, the numbers on the right."""
    top = sheet.y
    sheet.add(line((_MARGIN, top), (_RIGHT, top), stroke_width=3))
    left_end = _findings(sheet, scene, ringed, top + 48)
    right_end = _numbers(sheet, scene, top + 48)
    sheet.y = max(left_end, right_end)


def _findings(sheet: _Sheet, scene: PreviewScene, ringed: tuple[OffRing, ...], y: float) -> float:
    # What has no place is the chemistry above all: within a level it is read first.
    others = [("", f.level.value, told_in_full(f)) for f in scene.findings if f.at_mm is None]
    # The verdict has told its own already, with the same numbers.
    above = scene.verdict_in_full
    entries = [one for one in (*others, *_merged(ringed)) if not (above and one[2].endswith(above))]
    order = {told_in_full(f): k for k, f in reversed(list(enumerate(scene.findings)))}
    if scene.headline:
        # The verdict's own order.
        entries.sort(key=lambda entry: order.get(entry[2], len(order)))
    entries.sort(key=lambda entry: severity(entry[1]))
    if not entries and not above:
        sheet.add(text("Nothing to report.", _MARGIN, y))
    indent = _MARGIN + 220.0
    for label, level, message in entries[:_MOST_LISTED]:
        if label:
            sheet.add(badge(_MARGIN + 30, y - 8, label))
        sheet.add(text(level.upper() if level == "stop" else level, _MARGIN + 88, y, weight=600))
        for row in wrapped(typeset(message), width=_MARGIN + _LEFT_PX - indent, size=26):
            sheet.add(text(row, indent, y))
            y += 34
        y += 12
    if len(entries) > _MOST_LISTED:
        rest = len(entries) - _MOST_LISTED
        sheet.add(text(f"and {rest} more, all of them in plan.json", indent, y, fill=GREY))
        y += 46
    return y


def _merged(ringed: tuple[OffRing, ...]) -> list[tuple[str, str, str]]:
    """List entries (numbers, level, message), neighbours that say the same taken together."""
    entries = []
    for (level, message), alike in groupby(ringed, key=lambda ring: (ring.level, ring.message)):
        entries.append((told_numbers([ring.number for ring in alike]), level, message))
    return entries


def _numbers(sheet: _Sheet, scene: PreviewScene, y: float) -> float:
    left = _MARGIN + _LEFT_PX + _GAP
    for label, value in scene.numbers:
        sheet.add(text(label, left, y), text(value, _RIGHT, y, weight=600, anchor="end"))
        start = left + text_width(typeset(label), size=26) + 12
        end = _RIGHT - text_width(typeset(value), size=26, weight=600) - 12
        if end > start:
            sheet.add(line((start, y - 2), (end, y - 2), stroke=PALE, stroke_dasharray="2 6"))
        y += 44
    return y


def _caption(sheet: _Sheet, x: float, width: float, name: str, note: str) -> float:
    """A panel's name and the plain words under it; returns the height taken."""
    sheet.add(text(name, x, sheet.y + 26, size=34, weight=600))
    rows = wrapped(typeset(note), width=width, size=25)
    for k, row in enumerate(rows):
        sheet.add(text(row, x, sheet.y + 62 + 32 * k, size=25, fill=GREY))
    return 34.0 + 32.0 * len(rows)


def _fit(scene: PreviewScene, left: float, top: float, width: float, height: float) -> Frame:
    """The whole blank in a room of the sheet, as large as it goes, at the room's left."""
    px_per_mm = min(width / scene.width_mm, height / scene.height_mm)
    return Frame(
        left_px=left,
        top_px=top,
        px_per_mm=px_per_mm,
        width_mm=scene.width_mm,
        height_mm=scene.height_mm,
    )


def _orientation(scene: PreviewScene) -> tuple[str, str]:
    """What the two upper panels say about the side they show."""
    if scene.lit_edge:
        return (
            "The finished piece, read through its front, unlit. Dark: marked; it glows when the "
            f"{scene.lit_edge} edge is lit. R reads right.",
            "The back, as the laser sees it: mirrored about the dashed line, so R reads "
            "backwards. Dark: marked.",
        )
    if scene.is_back_worked:
        return (
            "The finished piece, read through its front. R reads right.",
            "The back, as the laser sees it: mirrored about the dashed line, so R reads "
            f"backwards. {'Outlined' if coats.is_first_pale(scene) else 'Light'}: the coat is "
            "cleared.",
        )
    return (
        "The finished piece as its reader sees it. Dark: recessed. R reads right.",
        ("The face under the laser" if scene.has_beam else "The face that is worked")
        + ", not mirrored: R reads right. Dark: resist. Light: the resist is cleared.",
    )


def _outcome_note(scene: PreviewScene, n_places: int) -> str:
    gaps = " The gaps between the lines are taken as marked." if scene.lit_edge else ""
    side = " As worked, so mirrored." if scene.is_back_worked else ""
    source = "the program itself" if scene.has_beam else "the drawing of film or stencil itself"
    if scene.is_draft and scene.has_beam:
        source = "where the beam's centre is to go, without a program,"
    squares = " Squares: where the enlargements lie." if n_places else ""
    return (
        f"Predicted from {source} and held against the artwork. Deviations are drawn "
        f"wider than they are: dark and solid, too much; light and hollow, too little.{squares}"
        f"{side}{gaps}"
    )
