"""The JSON Schema and the reference page: they say what the reader does."""

from __future__ import annotations

import importlib
import importlib.util
import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from jobs.job_texts import PLATE, SIGN, edited, mistakes, read
from jobs.plain_schema import judged
from stopout.jobs import job_schema
from stopout.jobs.described.reference import job_file_reference
from stopout.jobs.validate import toml_text

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "job-file.md"


def keys(schema: dict[str, Any], at: str = "") -> Iterator[tuple[str, dict[str, Any], bool]]:
    """Every key that is no table: its path, its schema, whether it is required."""
    for name, part in schema["properties"].items():
        inner = part.get("items", part)
        # A table may stand as the name of what the shop keeps.
        if "description" not in part:
            inner = next((one for one in part.get("anyOf", ()) if "properties" in one), inner)
        if isinstance(inner, dict) and "properties" in inner:
            yield from keys(inner, f"{at}{name}.")
        else:
            yield f"{at}{name}", part, name in schema.get("required", [])


def valid(text: str) -> bool:
    value = tomllib.loads(text)
    answer = judged(job_schema(), value)
    if importlib.util.find_spec("jsonschema"):
        general = importlib.import_module("jsonschema")
        general.Draft202012Validator.check_schema(job_schema())
        assert general.Draft202012Validator(job_schema()).is_valid(value) == answer
    return answer


@pytest.mark.parametrize("text", [PLATE, SIGN], ids=["plate", "sign"])
def test_the_example_jobs_are_valid(text: str) -> None:
    assert valid(text)
    read(text)


@pytest.mark.parametrize(
    ("text", "pattern", "new"),
    [
        (PLATE, "^speed = .*", "speed = 20"),
        (PLATE, "^speed = .*", 'speed = "-20 mm/s"'),
        (PLATE, "^speed = .*", 'sped = "20 mm/s"'),
        (PLATE, "^quantity = .*", "quantity = true"),
        (PLATE, "^width = .*", 'width = "1/4 in"'),
        (PLATE, "^width = .*", 'width = "92 mm"\nheight = "50 mm"'),
        (PLATE, "^mark = .*", 'mark = "0.1 mm"\ndose_ratio = 2'),
        (PLATE, "^corner_radius = .*", 'corner_radius = "1 mm"\noutline = "o.svg"'),
        (PLATE, "^dark = .*", 'dark = "raised"'),
        (PLATE, "^worked_side = .*", 'worked_side = "back"'),
        (SIGN, "^worked_side = .*", 'worked_side = "front"'),
        (PLATE, "^beam_on = .*", 'beam_on = "M5"'),
        (SIGN, 'shows = "dark"', 'shows = { fill = "#abcd" }'),
        (PLATE, "^file = .*", 'file = "plate.xyz"'),
        (PLATE, "^at = .*", 'at = ["8 mm"]'),
    ],
)
def test_what_the_schema_refuses_the_reader_refuses_too(text: str, pattern: str, new: str) -> None:
    changed = edited(text, pattern, new)
    assert not valid(changed)
    assert mistakes(changed)


def test_the_schema_is_json_of_draft_2020_12_and_made_anew_at_each_call() -> None:
    schema = job_schema()
    assert json.loads(json.dumps(schema)) == schema
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    schema["properties"].clear()
    assert job_schema()["properties"]
    assert json.dumps(job_schema()) == json.dumps(job_schema())
    assert "$ref" not in json.dumps(job_schema())
    assert '"null"' not in json.dumps(job_schema())


def test_every_key_has_a_description_and_examples_that_are_valid() -> None:
    for name, part, _ in keys(job_schema()):
        assert part["description"], name
        assert part["examples"], name
        for example in part["examples"]:
            assert judged(part, example), (name, example)


def test_every_default_is_valid_and_is_what_the_reader_takes_where_the_key_is_left_out() -> None:
    minimal = SIGN.replace("[registration]\nerror", "[budget]\n[limits]\n#")
    count = 0
    for name, part, required in keys(job_schema()):
        assert not (required and "default" in part), name
        if "default" not in part or name.startswith(
            (
                "etch.",
                "resist.",
                "film.",
                "stencil.",
                "coat.",
                "bath.",
                "registration.",
                "light.",
                "sheet.",
                "text.",
                "line.",
                "frame.",
                "code.",
                "series.",
                "panel.",
            )
        ):
            continue
        count += 1
        assert judged(part, part["default"]), name
        table, key = name.split(".", 1)
        written = f"[{table}]\n{key} = {toml_text(part['default'])}"
        given = read(edited(minimal, rf"^\[{table}\]", written))
        left_out = read(minimal)
        fields = ("artwork", "blank", "machine", "clearing", "limits", "budget")
        for field in (*fields, "revision", "quantity", "spares"):
            assert getattr(given, field) == getattr(left_out, field), name
    assert count >= 15


def test_the_reference_page_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == job_file_reference(), (
        "write it anew: python -m stopout.jobs.described.reference docs/reference/job-file.md"
    )


def test_the_reference_page_names_every_key() -> None:
    page = job_file_reference()
    for name, _, _ in keys(job_schema()):
        assert f"| `{name.rsplit('.', 1)[-1]}` |" in page


def test_what_the_shop_keeps_by_its_name_may_be_given_by_that_alone() -> None:
    """A machine that is given in full needs its numbers; one that is kept, its name."""
    machine = job_schema()["properties"]["machine"]
    assert judged(machine, "bench-laser")
    assert judged(machine, {"name": "bench-laser"})
    assert not judged(machine, {})
    assert not judged(machine, "")
    whole = tomllib.loads(PLATE)["machine"]
    assert judged(machine, whole)
    assert not judged(machine, {key: whole[key] for key in list(whole)[1:]} | {"name": 3})
