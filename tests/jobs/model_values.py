"""A small job of each road as tables, every key of the job model, and values for each key.

The keys come from the model itself, so that a new one is tried wherever these are used.
"""

from __future__ import annotations

import json
import math
import tomllib

from cli.shop_files import JOB
from stopout.jobs.forms import (
    Amount,
    AutoOr,
    AxesMeasured,
    Count,
    Dissolved,
    Figure,
    Listed,
    MotorStep,
    Named,
    OneOf,
    PlaceForm,
    Row,
    ShownPart,
    StrengthForm,
    Switch,
    TextForm,
    WithSpread,
    WrongValueError,
    YesNo,
)
from stopout.jobs.keys.model import JOB_FILE
from stopout.tables.names import names_of
from stopout.units import QUANTITIES, format_number

METAL = tomllib.loads(JOB)
METAL["blank"]["hole"] = [{"at": ["20 mm", "3 mm"], "diameter": "2 mm"}]
METAL["machine"]["keep_out"] = [{"box": ["0 mm", "0 mm", "20 mm", "15 mm"]}]
METAL["bath"] = {"volume": "1 L", "tray": ["100 mm", "80 mm"]}
PLASTIC = {**METAL["blank"], "material": "acrylic-cast", "worked_side": "back"}


def _without(job, *tables, **given):
    return {key: value for key, value in {**job, **given}.items() if key not in tables}


LIT = _without(METAL, "resist", "etch", "bath", blank=PLASTIC, light={"edge": "bottom"})
_COATS = [
    {"paint": "acrylic-lacquer", "colour": "black", "shows": "rest"},
    {"paint": "acrylic-lacquer", "colour": "ivory", "shows": "dark", "recolour": True},
]
SIGN = _without(LIT, "light", coat=_COATS, registration={"error": "0.1 mm"})
FILM = _without(
    METAL,
    "machine",
    "clearing",
    resist={"paint": "dry-film-photoresist", "method": "printed-film"},
    film={"resist_acts": "negative"},
)
STENCIL = _without(
    METAL,
    "machine",
    "clearing",
    resist={"paint": "vinyl-film", "method": "cut-film"},
    stencil={"loose": True},
)
CURRENT = {
    "etchant": "electrolytic",
    "electrolyte": "sodium-chloride",
    "strength": "100 g/L",
    "temperature": "20 degC",
    "depth": "0.06 mm",
}
ELECTRIC = _without(METAL, blank={**METAL["blank"], "material": "brass"}, etch=CURRENT)
ROADS = {
    "metal": METAL,
    "sign": SIGN,
    "lit": LIT,
    "film": FILM,
    "stencil": STENCIL,
    "electric": ELECTRIC,
}
_TEXTS = (
    "tag.svg",
    "M3",
    "M5",
    "M8",
    "M9",
    "Gate 3",
    "\u03b8\u03cd\u03c1\u03b1",
    "a.ttf",
    "a.toml",
)
# What a value asks of others, so that it is planned with and not only refused for their sake.
_WITH = {
    ("clearing", "dose_ratio"): {("clearing", "mark"): None},
    ("clearing", "focus_step"): {("clearing", "passes"): 2},
    ("clearing", "speed"): {("machine", "top_speed"): "20000 mm/s"},
    ("clearing", "spacing"): {("machine", "step"): "0.0001 mm"},
    ("coat", 0, "speed"): {("machine", "top_speed"): "20000 mm/s"},
    ("machine", "spot"): {("clearing", "mark"): None, ("machine", "step"): "0.0005 mm"},
    ("machine", "step"): {("machine", "spot"): "1 mm", ("clearing", "mark"): None},
    ("machine", "air_on"): {("machine", "air_off"): "M19"},
    ("machine", "air_off"): {("machine", "air_on"): "M18"},
    ("film", "growth"): {("film", "smallest_opening"): "5 mm"},
    ("artwork", "dark"): {("artwork", "field"): "1 mm"},
    ("blank", "width"): {("blank", "hole"): None},
    ("blank", "height"): {("blank", "hole"): None},
    ("blank", "corner_radius"): {("blank", "hole"): None},
}
_AS_WIDE = {
    ("clearing", "mark"): [("machine", "spot")],
    ("coat", 0, "mark"): [("machine", "spot")],
    ("machine", "top_speed"): [("clearing", "speed")],
}
_BY_CURRENT = ("electrolyte", "current", "current_density", "voltage", "efficiency")


def keys(table=JOB_FILE, at=()):
    """Yield (path, key) for each key; an array of tables is entered at its first element."""
    for key in table.keys:
        yield (*at, key.name), key
    for inner in table.tables:
        yield from keys(inner, (*at, inner.name, 0) if inner.is_many else (*at, inner.name))


def road_of(path):
    """The road on which a key has a meaning."""
    table = path[0]
    if table == "etch" and path[1] in _BY_CURRENT:
        return "electric"
    by_table = {"coat": "sign", "registration": "sign", "light": "lit", "film": "film"}
    return by_table.get(table, "stencil" if table == "stencil" else "metal")


def with_value(job, path, value):
    """A copy of a job's tables with one value given; None takes the key away."""
    head, *rest = path
    if isinstance(head, int):
        inside = list(job or [])
        old = inside[head] if head < len(inside) else {}
        inside[head : head + 1] = [with_value(old, rest, value) if rest else value]
        return inside
    if rest:
        empty = [] if isinstance(rest[0], int) else {}
        return {**job, head: with_value(job.get(head, empty), rest, value)}
    kept = {key: old for key, old in job.items() if key != head}
    return kept if value is None else {**kept, head: value}


def given(job, path, value):
    """A copy of a job's tables with one value given, and what that asks of others."""
    for other, theirs in _WITH.get(path, {}).items():
        if other[0] in job:
            job = with_value(job, other, theirs)
    for other in _AS_WIDE.get(path, []):
        if other[0] in job and isinstance(value, str):
            job = with_value(job, other, value)
    return with_value(_with_table(job, path), path, value)


def _with_table(job, path):
    """A job that has the table of a key, with what the table must give."""
    table, at = JOB_FILE, ()
    for name in path[:-1]:
        if isinstance(name, int):
            continue
        table = table.parts[name]
        at = (*at, name, 0) if table.is_many else (*at, name)
        if not _holds(job, at):
            needed = {key.name: key.sample for key in table.keys if key.is_required}
            job = with_value(job, at, needed)
    return job


def _holds(job, at):
    for name in at:
        if name not in (range(len(job)) if isinstance(name, int) else job):
            return False
        job = job[name]
    return True


def as_toml(job):
    """Write a job's tables as a job file."""
    lines = []
    for name, table in job.items():
        if isinstance(table, list):
            for element in table:
                lines += _table(f"[[{name}]]", name, element)
        elif isinstance(table, dict):
            lines += _table(f"[{name}]", name, table)
    return "\n".join(lines) + "\n"


def _table(header, name, table):
    lines, arrays = ["", header], []
    for key, value in table.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            for element in value:
                arrays += _table(f"[[{name}.{key}]]", f"{name}.{key}", element)
        else:
            lines.append(f"{key} = {toml_text(value)}")
    return lines + arrays


def toml_text(value):
    """Write a value as TOML has it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(toml_text, value))}]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml_text(one)}" for key, one in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False)


def ends(key):
    """The possible ends of a key's numbers, as TOML would give them; empty for words."""
    return _ends(key.form)


def _ends(form):
    if isinstance(form, Amount):
        least = form.at_least or _just(form.above, form.at_most, 1e-6)
        most = form.at_most or _just(form.below, form.above, 1e-6)
        return [end for end in (least, most) if end]
    if isinstance(form, Figure):
        return [form.above + 1e-3, *([form.at_most] if form.at_most < math.inf else [1e9])]
    if isinstance(form, Count):
        return [form.at_least, form.at_most]
    if isinstance(form, StrengthForm):
        return ["0.001 g/L", "2000 g/L", "0.001 %", "100 %", "0.01 degBe", "85 degBe"]
    if isinstance(form, Dissolved):
        return ["0 g/L", f"{form.at_most} g/L"]
    if isinstance(form, AutoOr):
        return _ends(form.inner)
    if isinstance(form, MotorStep):
        return _ends(form.each)
    if isinstance(form, WithSpread | AxesMeasured):
        return _ends(form.each)
    if isinstance(form, Row):
        return [[end] * form.length for end in _ends(form.each)]
    if isinstance(form, PlaceForm):
        return [{"left": end, "bottom": end} for end in _ends(form.each)]
    return []


def _just(bound, other, share):
    """A text just inside an open bound: a millionth of the other, or of one unit."""
    if not bound:
        return ""
    number, unit = bound.split()
    if float(number):
        return f"{format_number(float(number) * (1 - share), digits=9)} {unit}"
    most = float(other.split()[0]) if other else 1.0
    return f"{format_number(most * share, digits=9)} {(other or bound).split()[1]}"


def plausible(key, chance):
    """A value that a key may well have, drawn by a `random.Random`."""
    drawn = _drawn(key.form, chance)
    return key.sample if drawn is None else drawn


def _drawn(form, chance):
    if isinstance(form, Amount):
        return _amount(form, chance)
    if isinstance(form, Figure):
        low, high = form.usual or (form.above or 0.01, min(form.at_most, 1000.0))
        return round(_between(low, high, chance), 3) or 1
    if isinstance(form, Count):
        low, high = form.usual or (form.at_least, min(form.at_most, 50))
        return chance.randint(low, high)
    if isinstance(form, StrengthForm):
        return chance.choice(["100 g/L", "40 degBe", "12 %", f"{chance.randint(5, 400)} g/L"])
    if isinstance(form, Dissolved):
        return f"{chance.randint(0, 60)} g/L"
    if isinstance(form, AutoOr):
        return form.word if chance.random() < 0.3 else _drawn(form.inner, chance)
    if isinstance(form, MotorStep):
        return chance.choice(["80 /mm", "160 /mm", _drawn(form.each, chance)])
    if isinstance(form, AxesMeasured):
        one = _drawn(form.each, chance)
        return one if isinstance(one, str) and chance.random() < 0.4 else [one, one]
    if isinstance(form, WithSpread):
        return _drawn(form.each, chance)
    if isinstance(form, Row):
        return [_drawn(form.each, chance) for _ in range(form.length)]
    if isinstance(form, Named):
        return chance.choice([name for name, _, _ in names_of(form.table)])
    if isinstance(form, PlaceForm):
        return "centre" if chance.random() < 0.5 else {"left": "2 mm", "bottom": "1 mm"}
    if isinstance(form, ShownPart):
        return chance.choice(["dark", "rest", {"fill": "#000"}, {"class": "gold"}, {"id": "a"}])
    if isinstance(form, Switch):
        return chance.choice([True, False, form.word])
    if isinstance(form, Listed):
        return [_drawn(form.each, chance) for _ in range(chance.randint(0, 2))]
    if isinstance(form, OneOf):
        return chance.choice(form.choices)
    if isinstance(form, YesNo):
        return chance.random() < 0.5
    if isinstance(form, TextForm):
        read = [text for text in _TEXTS if _is_read(form, text)]
        return chance.choice(read) if read else None
    return None


def _is_read(form, text):
    try:
        form.read(text)
    except WrongValueError:
        return False
    return True


def _amount(form, chance):
    ends = [end for end in (form.usual or (form.above or form.at_least, form.at_most)) if end]
    unit = ends[-1].split()[-1] if ends else QUANTITIES[form.quantity].unit
    if not all(end.split()[-1] == unit for end in ends) or len(ends) < 2:
        return ends[0] if ends else QUANTITIES[form.quantity].example
    low, high = (float(end.split()[0]) for end in ends)
    number = min(max(_between(low, high, chance), low), high)
    text = f"{format_number(number, digits=3)} {unit}"
    return text if _is_read(form, text) else QUANTITIES[form.quantity].example


def _between(low, high, chance):
    """A number between two others: by their ratio where both are above nought."""
    if low > 0:
        return low * (high / low) ** chance.random()
    return chance.choice([low, low + (high - low) * chance.random() ** 3])
