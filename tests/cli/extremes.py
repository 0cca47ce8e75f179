"""Jobs with values at their possible bounds, and what no text of theirs may hold."""

from __future__ import annotations

import datetime
import json
import re

from cli.shop_files import ARTWORK
from stopout.artwork import read_artwork
from stopout.errors import StopoutError
from stopout.jobs import parse_job
from stopout.jobs.forms import Amount, Count, Figure, leaf_of
from stopout.jobs.model import JOB_FILE
from stopout.library.knowledge import knowledge_for
from stopout.library.plan_files import sheet_files
from stopout.plan_file import summarise
from stopout.planning import plan_job

BATH = '\n[bath]\nvolume = "1 L"\ntray = ["100 mm", "80 mm"]\n'
TABLES = ("blank", "resist", "machine", "clearing", "etch", "bath", "limits")
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
    """Yield (table, key, text of a value in TOML) for each possible bound of each number."""
    for name, table in JOB_FILE.walk():
        if name in TABLES:
            for key in table.keys:
                for text in _ends(leaf_of(key.form)):
                    yield name, key.name, text


def _ends(form):
    if isinstance(form, Amount):
        return [f'"{end}"' for end in (form.at_least, form.at_most) if end]
    if isinstance(form, Figure):
        return [str(form.above * 1.01 + 1e-3), *([str(form.at_most)] if form.at_most < 1e9 else [])]
    return [str(form.at_least), str(form.at_most)] if isinstance(form, Count) else []


def with_value(job, table, key, text):
    """The job's text with one value given, the row of a pair made of one value."""
    lines = job.splitlines()
    if f"[{table}]" not in lines:
        lines += ["", f"[{table}]"]
    start = lines.index(f"[{table}]")
    end = next((k for k in range(start + 1, len(lines)) if lines[k].startswith("[")), len(lines))
    held = [line for line in lines[start:end] if not line.startswith(f"{key} =")]
    old = next((line for line in lines[start:end] if line.startswith(f"{key} =")), "")
    value = f"[{text}, {text}]" if "[" in old else text
    return "\n".join([*lines[:start], *held, f"{key} = {value}", *lines[end:]]) + "\n"


def texts_of(job_text, artwork=ARTWORK):
    """What a job's plan says, by name; None where the job is refused."""
    try:
        job = parse_job(job_text.encode(), file="tag.toml")
        drawing = read_artwork(artwork.encode(), job.artwork, job.blank, name="tag.svg")
        made = plan_job(job, drawing, knowledge_for(job))
    except StopoutError as error:
        return {"refusal": str(error)}
    summary = summarise(made, sheets=True)
    page = sheet_files(made, date=datetime.date(2026, 11, 29).isoformat())
    told = [f"{f.message} {f.remedy or ''}" for f in made.findings]
    words = {
        name: re.sub(r"<(script|style|svg)\b.*?</\1>|<[^>]*>", " ", data.decode(), flags=re.S)
        for name, data in page.items()
        if name.endswith(".html")
    }
    return {"findings": "\n".join(told), "plan.json": json.dumps(summary, indent=1), **words}


def faults(texts):
    """Yield (where, what) for each number that cannot be measured."""
    for name, text in texts.items():
        if name == "plan.json":
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
    elif isinstance(value, str) and (found := NOT_MEASURED.search(value)) and "sha" not in at:
        yield f"{at} = {value[max(0, found.start() - 60) : found.end() + 30]}"
