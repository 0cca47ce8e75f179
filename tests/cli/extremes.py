"""Jobs with values at their possible bounds, and what no text of theirs may hold."""

from __future__ import annotations

import datetime
import json
import re
from dataclasses import fields, is_dataclass
from pathlib import Path

from cli.shop_files import ARTWORK
from jobs.model_values import ROADS, as_toml, ends, given, keys, road_of
from stopout.artwork import read_artwork
from stopout.cli.speech.result_lines import result_lines
from stopout.errors import StopoutError
from stopout.jobs import parse_job
from stopout.library.knowledge import knowledge_for
from stopout.pictures.piece.of_plan import preview_scene
from stopout.pictures.piece.preview import preview_svg
from stopout.plan_file import summarise
from stopout.planning import plan_job
from stopout.sheet import sheet_contents, sheet_json, sheet_page, sheet_pictures
from stopout.sheet.model import Sketch
from stopout.tables import load_statements
from stopout.wording import measurable

# No number, or more digits than anybody measures, or an exponent: 14 digits are no length in mm,
# no grams and no seconds of a shop.
NOT_MEASURED = re.compile(
    r"(?<![\w.-])-?(?:nan|inf|infinity)(?![\w-])|(?<![\w.#-])\d+(?:\.\d+)?e[+-]?\d+(?![\w-])"
    r"|(?<![\w.])\d{13,}(?![\w.])",
    re.IGNORECASE,
)
# The largest number of plan.json that is not a hash: seconds of a year, mm3 of a tank.
LARGEST = 1e11


def bounds():
    """Yield (path, value, job file) for each possible end of each number of the job model."""
    for path, key in keys():
        for value in ends(key):
            yield path, value, as_toml(given(ROADS[road_of(path)], path, value))


def texts_of(job_text, artwork=ARTWORK):
    """What a job's plan says, by name; the refusal alone where the job is refused."""
    try:
        job = parse_job(job_text.encode(), file="tag.toml")
        drawing = read_artwork(artwork.encode(), job.artwork, job.blank, name="tag.svg")
        made = plan_job(job, drawing, knowledge_for(job))
    except StopoutError as error:
        return {"refusal": str(error)}
    date = datetime.date(2026, 11, 29).isoformat()
    codes = [code for h in made.hazards for code in (*h.statements, *h.precautions)]
    statements = {entry.code: entry.text for entry in load_statements(tuple(codes))}
    pictures = {} if made.is_stopped else sheet_pictures(made)
    sheet = sheet_contents(made, pictures=pictures, statements=statements, date=date)
    told = [f"{f.message} {f.remedy or ''}" for f in made.findings]
    page = sheet_page(sheet, date=date).decode()
    drawn = preview_svg(preview_scene(made)) + "".join(p.svg for p in pictures_of(sheet))
    return {
        "findings": "\n".join(told),
        "terminal": measurable("\n".join(result_lines(made, Path("tag-plan"), in_full=True))),
        "pictures": "\n".join(re.findall(r"<text[^>]*>([^<]*)", drawn)),
        "plan.json": json.dumps(summarise(made, sheets=True), indent=1),
        "sheet.json": sheet_json(sheet, date=date).decode(),
        "sheet.html": re.sub(r"<(script|style|svg)\b.*?</\1>|<[^>]*>", " ", page, flags=re.S),
    }


def pictures_of(value):
    """Yield the sketches of a sheet, however deep they stand in it."""
    if isinstance(value, Sketch):
        yield value
    elif isinstance(value, tuple):
        for inner in value:
            yield from pictures_of(inner)
    elif is_dataclass(value):
        for field in fields(value):
            yield from pictures_of(getattr(value, field.name))


def faults(texts):
    """Yield (where, what) for each number that cannot be measured."""
    for name, text in texts.items():
        if name.endswith(".json"):
            yield from ((name, fault) for fault in _absurd(json.loads(text), ""))
        else:
            for found in NOT_MEASURED.finditer(text):
                yield name, text[max(0, found.start() - 60) : found.end() + 30].replace("\n", " ")


def _absurd(value, at):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _absurd(inner, f"{at}.{key}")
    elif isinstance(value, list):
        for inner in value:
            yield from _absurd(inner, at)
    elif isinstance(value, float | int) and not isinstance(value, bool):
        if not abs(value) < LARGEST:
            yield f"{at} = {value}"
    elif isinstance(value, str) and "sha" not in at and not value.lstrip().startswith("<svg"):
        for found in NOT_MEASURED.finditer(value):
            yield f"{at} = {value[max(0, found.start() - 60) : found.end() + 30]}"
