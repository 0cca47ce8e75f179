"""Checks between keys: what excludes, requires or bounds what. Each tells all it finds.

The tables may be incomplete: a key that is wrong or missing has been told already, is read as
None here, and a check that needs it stays silent.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import PurePath
from typing import Any

from stopout.errors import Mistake
from stopout.jobs.checking.relations import impossible
from stopout.jobs.checking.setting_checks import setting_faults
from stopout.jobs.checking.table_checks import table_faults
from stopout.jobs.keys.definition import GivenTable, found
from stopout.jobs.keys.machine_table import MACHINE
from stopout.jobs.keys.model import ETCH
from stopout.jobs.lines import Path, dotted
from stopout.jobs.syntax import Source
from stopout.units import format_number

Fault = tuple[Path, str]


def check_job(tables: GivenTable, source: Source) -> list[Mistake]:
    """Find the mistakes that lie between keys.

    Parameters
    ----------
    tables : GivenTable
        The tables as far as they could be read.
    source : Source
        The values as written: presence counts even where a value is wrong.
    """
    raw = source.values
    faults = [
        *_artwork(tables, raw),
        *_blank(tables, raw),
        *_holes(tables),
        *_method(tables, raw),
        *_route(tables, raw),
        *_coats(tables, raw),
        *_lines_of_light(raw),
        *_focus_steps(tables),
        *machine_faults(tables, raw),
        *_clearing(tables, raw),
        *_electro(tables, raw),
        *_bath(tables, raw),
        *table_faults(tables, raw),
        *setting_faults(tables, raw),
        *impossible(tables),
    ]
    return [
        Mistake(field=dotted(at), message=message, line=source.lines.nearest(at))
        for at, message in faults
    ]


def _given(raw: dict[str, Any], table: str) -> dict[str, Any]:
    """The keys that a table gives, in their order; empty where it is missing or no table."""
    inner = raw.get(table)
    return inner if isinstance(inner, dict) else {}


def _only_one(raw: dict[str, Any], table: str, keys: tuple[str, ...]) -> Iterator[Fault]:
    given = [key for key in _given(raw, table) if key in keys]
    for extra in given[1:]:
        yield (table, extra), f"excludes {given[0]}, which is given too; keep one of them"


def _artwork(tables: GivenTable, raw: dict[str, Any]) -> Iterator[Fault]:
    yield from _only_one(raw, "artwork", ("width", "height", "scale", "resolution"))
    given = _given(raw, "artwork")
    file = found(tables, "artwork", "file")
    if "resolution" in given and file and PurePath(file).suffix.lower() in (".svg", ".pdf", ".dxf"):
        yield (
            ("artwork", "resolution"),
            "is for pictures made of pixels; this file carries its own size: leave resolution out, "
            "or give width, height or scale",
        )
    if found(tables, "artwork", "dark") != "raised":
        return
    if "field" not in given:
        yield (
            ("artwork", "field"),
            'is missing; dark = "raised" needs the margin between the blank\'s edge and the '
            'recessed field, such as field = "4 mm"',
        )
    if found(tables, "blank", "worked_side") == "back":
        yield (
            ("artwork", "dark"),
            '"raised" is for metal; on a back-worked piece the coats say what is seen: write '
            'shows = "rest" and shows = "dark" in them',
        )
    field, sides = found(tables, "artwork", "field"), _sides(tables)
    if field is not None and sides is not None and 2 * field >= min(sides):
        most = format_number(min(sides) / 2)
        yield ("artwork", "field"), f"leaves no field; must be below {most} mm on this blank"


def _blank(tables: GivenTable, raw: dict[str, Any]) -> Iterator[Fault]:
    yield from _only_one(raw, "blank", ("corner_radius", "outline"))
    radius, sides = found(tables, "blank", "corner_radius"), _sides(tables)
    if radius is not None and sides is not None and 2 * radius > min(sides):
        most = format_number(min(sides) / 2)
        yield ("blank", "corner_radius"), f"must be at most {most} mm, half of the smaller side"


def _sides(tables: GivenTable) -> tuple[float, float] | None:
    width, height = found(tables, "blank", "width"), found(tables, "blank", "height")
    return None if width is None or height is None else (width, height)


def _holes(tables: GivenTable) -> Iterator[Fault]:
    sides = _sides(tables)
    if sides is None:
        return
    # The outline's own shape is not known here; its box bounds it.
    corner = found(tables, "blank", "corner_radius") or 0.0
    corner = min(corner, min(sides) / 2)
    for place, hole in enumerate(found(tables, "blank", "hole") or []):
        at, diameter = found(hole, "at"), found(hole, "diameter")
        if at is None or diameter is None:
            continue
        room = _room(at, sides, corner)
        if diameter / 2 >= room:
            where = f"({format_number(at[0])}, {format_number(at[1])}) mm"
            reach = f"is {format_number(diameter)} mm wide at {where} and does not lie inside"
            size = f"{format_number(sides[0])} x {format_number(sides[1])} mm"
            key = "diameter" if room > 0 else "at"
            yield ("blank", "hole", place, key), f"the hole {reach} the blank of {size}"


def _room(at: tuple[float, float], sides: tuple[float, float], corner: float) -> float:
    """How far a point lies inside a rectangle with round corners; negative outside."""
    # Distance to a rounded rectangle: that of the shrunken rectangle, less the corner radius.
    dx = abs(at[0] - sides[0] / 2) - (sides[0] / 2 - corner)
    dy = abs(at[1] - sides[1] / 2) - (sides[1] / 2 - corner)
    outside = math.hypot(max(dx, 0.0), max(dy, 0.0))
    return corner - (outside + min(max(dx, dy), 0.0))


def _route(tables: GivenTable, raw: dict[str, Any]) -> Iterator[Fault]:
    """Which of [etch], [resist] and [[coat]] the worked side asks for."""
    side = found(tables, "blank", "worked_side")
    if side == "back":
        if "resist" in raw:
            yield (
                ("resist",),
                "is for metal; a back-worked piece has [[coat]] tables instead, one for each coat",
            )
        if "etch" in raw:
            yield ("etch",), 'is for metal; leave it out, or write worked_side = "front"'
        if "light" in raw:
            yield from _unpainted(tables, raw)
        elif not raw.get("coat"):
            yield (
                ("coat",),
                "the tables [[coat]] are missing; a back-worked piece needs its coats in the order "
                "of spraying, each with paint, colour and shows",
            )
    elif side == "front":
        if "light" in raw:
            yield (
                ("light",),
                'is for clear plastic marked on its back; write worked_side = "back"',
            )
        if "coat" in raw:
            yield (
                ("coat",),
                "is for pieces worked on the back; metal has one [resist] instead, or write "
                'worked_side = "back"',
            )
        if "resist" not in raw:
            yield ("resist",), "the table [resist] is missing; write [resist] with at least paint"
        if "etch" not in raw:
            needed = ETCH.needed
            yield ("etch",), f"the table [etch] is missing; write [etch] with at least {needed}"
    elif "resist" in raw and "coat" in raw:
        yield ("coat",), "excludes [resist], which is given too; keep one of them"
    elif "resist" not in raw and "coat" not in raw:
        yield ("resist",), "is missing; metal needs [resist], clear plastic its [[coat]] tables"


def _unpainted(tables: GivenTable, raw: dict[str, Any]) -> Iterator[Fault]:
    """What has no place in a job whose sheet is marked without paint."""
    far = found(tables, "light", "far")
    if far is not None and far < 1:
        yield (
            ("light", "far"),
            "must be 1 or more: how many times denser the far side is than the side near the light",
        )
    for table in ("coat", "registration"):
        if table in raw:
            yield (
                (table,),
                "has no place beside [light], which marks the bare sheet; leave one of them out",
            )


def _focus_steps(tables: GivenTable) -> Iterator[Fault]:
    """A step between passes needs two of them."""
    if found(tables, "clearing", "focus_step") is None:
        return
    passes = [found(tables, "clearing", "passes") or 1]
    passes += [getattr(coat, "passes", None) or 1 for coat in found(tables, "coat") or []]
    if max(passes) < 2:
        yield (
            ("clearing", "focus_step"),
            "lowers the head between passes, and there is one pass; give passes = 2 or more, or "
            "leave it out",
        )


def _lines_of_light(raw: dict[str, Any]) -> Iterator[Fault]:
    """[light] lays the lines: nothing else may."""
    for key in ("spacing", "line_direction"):
        if "light" in raw and _given(raw, "clearing").get(key, "auto") != "auto":
            yield (
                ("clearing", key),
                "has no place beside [light], which lays the lines itself; leave it out",
            )


def _coats(tables: GivenTable, raw: dict[str, Any]) -> Iterator[Fault]:
    coats = found(tables, "coat") or []
    listed = isinstance(raw.get("coat"), list)
    if not listed or "light" in raw:
        return
    if len(coats) == 1 and found(tables, "blank", "worked_side") != "front":
        yield (
            ("coat", 0),
            "is the only coat, so nothing would be cleared; add the coat that shows through, or a "
            'last one with colour = "clear" for windows to light',
        )
    claimed: dict[Any, int] = {}
    for place, coat in enumerate(coats):
        at: Path = ("coat", place)
        if found(coat, "colour") == "clear":
            if place < len(coats) - 1:
                yield (*at, "colour"), '"clear" is a window to light and must be the last coat'
        elif "paint" not in raw["coat"][place] and found(coat, "colour") is not None:
            yield (*at, "paint"), 'is missing; write paint = "acrylic-lacquer"'
        shows = found(coat, "shows")
        if shows in claimed and shows is not None:
            yield (*at, "shows"), f"is what coat {claimed[shows]} shows already"
        claimed.setdefault(shows, place + 1)


_NEEDED = {"machine": "emitter or wavelength, power, top_speed, bed, power_word, beam_on"}


def _method(tables: GivenTable, raw: dict[str, Any]) -> Iterator[Fault]:
    """What each way of making the opening needs, and what belongs to another way."""
    method = found(tables, "resist", "method") if "resist" in raw else "laser"
    if method is None:
        return
    if raw.get("coat") and "stencil" in raw and "resist" not in raw:
        # The masks of a sign are cut: a beam has no part in it.
        method = "cut-film"
        for table in ("machine", "clearing"):
            if table in raw:
                yield (
                    (table,),
                    "has no place beside [stencil], by which the masks of a sign are cut; leave "
                    "one of them out",
                )
    if method == "laser":
        for table, needed in _NEEDED.items():
            if table not in raw:
                yield (
                    (table,),
                    f"the table [{table}] is missing; write [{table}] with at least {needed}, "
                    f'or name one that the shop keeps: {table} = "NAME"',
                )
    for table, own in (("film", "printed-film"), ("stencil", "cut-film")):
        if table in raw and method != own:
            yield (table,), f'is for [resist] method = "{own}"; leave it out, or write that'
    if method == "printed-film" and "film" not in raw:
        yield (("film",), "the table [film] is missing; write [film] with at least resist_acts")
    growth, least = found(tables, "film", "growth"), found(tables, "film", "smallest_opening")
    if growth is not None and least is not None and least <= 2 * growth:
        yield (
            ("film", "smallest_opening"),
            f"must be above {format_number(2 * growth)} mm, the growth of its two edges",
        )


def machine_faults(tables: GivenTable, raw: dict[str, Any]) -> Iterator[Fault]:
    """Find what of a machine's figures goes with what."""
    yield from _only_one(raw, "machine", ("emitter", "wavelength"))
    given = _given(raw, "machine")
    finds = {key.name: key.find for key in MACHINE.keys}
    if "machine" in raw and not {"emitter", "wavelength"} & set(given):
        yield (
            ("machine", "wavelength"),
            f"is missing; {finds['wavelength']}, or name the kind of laser instead: emitter",
        )
    for key, other in (("spot", "spot_means"), ("spot_means", "spot")):
        if key in given and other not in given:
            yield ("machine", other), f"is missing; {finds[other]}"
    for place, keep_out in enumerate(found(tables, "machine", "keep_out") or []):
        box = found(keep_out, "box")
        if box is not None and not (box[0] < box[2] and box[1] < box[3]):
            yield (
                ("machine", "keep_out", place, "box"),
                "must be left, bottom, right, top, with left below right and bottom below top",
            )
    step, spot = found(tables, "machine", "step"), found(tables, "machine", "spot")
    if step is not None and spot is not None and step > min(spot):
        least = format_number(min(spot))
        yield ("machine", "step"), f"must be at most {least} mm, the width of the spot"
    on, off = (found(tables, "machine", key) for key in ("air_on", "air_off"))
    for key, given, other in (("air_off", on, off), ("air_on", off, on)):
        if given is not None and other is None:
            yield ("machine", key), f"is missing; the air needs both words, on and off ({given})"
    beam, ended = (found(tables, "machine", key) for key in ("beam_on", "beam_off"))
    words = [word for word in (beam, ended, on, off) if word is not None]
    numbers = [int(word[1:]) for word in words]
    if len(set(numbers)) < len(numbers):
        yield (
            ("machine",),
            f"gives one M word two meanings ({', '.join(words)}); each of beam_on, beam_off, "
            "air_on and air_off needs its own",
        )


def _clearing(tables: GivenTable, raw: dict[str, Any]) -> Iterator[Fault]:
    yield from _only_one(raw, "clearing", ("mark", "dose_ratio"))
    given = _given(raw, "clearing")
    # What was measured, or is marked without paint, belongs to one dose; no rule chooses it.
    why = None
    if "mark" in given:
        why = "a mark belongs to the power and speed at which it was measured"
    elif "light" in raw:
        why = "for a sheet that is marked without paint no dose is known"
    for key in ("power", "speed") if why else ():
        if key not in given:
            yield ("clearing", key), f"is missing; {why}"
    top = found(tables, "machine", "top_speed")
    speeds: list[tuple[Path, Any]] = [(("clearing", "speed"), found(tables, "clearing", "speed"))]
    for place, coat in enumerate(found(tables, "coat") or []):
        speeds.append((("coat", place, "speed"), found(coat, "speed")))
    for at, speed in speeds:
        if speed is not None and top is not None and speed > top:
            limit = f"at most the machine's top_speed of {format_number(top)} mm/s"
            yield at, f"must be {limit}, not {format_number(speed)} mm/s"
    spacing, step = found(tables, "clearing", "spacing"), found(tables, "machine", "step")
    if spacing is not None and step is not None and spacing < step * (1 - 1e-9):
        yield (
            ("clearing", "spacing"),
            f"must be at least one motor step of {format_number(step)} mm",
        )


_ELECTRO = ("electrolyte", "current", "current_density", "voltage", "efficiency")


def _electro(tables: GivenTable, raw: dict[str, Any]) -> Iterator[Fault]:
    """The keys of an etch by a current, with it and only with it."""
    given = _given(raw, "etch")
    etchant = found(tables, "etch", "etchant")
    if etchant is None:
        return
    if etchant != "electrolytic":
        for key in given:
            if key in (*_ELECTRO, "chromate_acknowledged"):
                yield ("etch", key), 'is for electro-etching: write etchant = "electrolytic"'
        return
    yield from _only_one(raw, "etch", ("current", "current_density"))
    if "electrolyte" not in given:
        yield (
            ("etch", "electrolyte"),
            'is missing; etchant = "electrolytic" needs the salt of its bath, such as '
            'electrolyte = "sodium-chloride"',
        )
    if "rate" in given:
        yield (
            ("etch", "rate"),
            "follows from the current; leave it out, and give efficiency as measured by weighing",
        )


def _bath(tables: GivenTable, raw: dict[str, Any]) -> Iterator[Fault]:
    if "bath" in raw and "etch" not in raw:
        yield ("bath",), "is for a job that is etched; leave it out, or write [etch]"
