"""The ends of each key's range: taken where they belong to it, refused in a sentence beyond."""

from __future__ import annotations

import math
import re
import tomllib

import pytest

from jobs.job_texts import PLATE, SIGN, mistakes
from jobs.plain_schema import judged
from jobs.test_film_tables import CUT, FILM, PRINTED
from stopout.jobs import job_schema
from stopout.jobs.forms import (
    Amount,
    Count,
    Figure,
    Listed,
    OneOf,
    TextForm,
    YesNo,
    leaf_of,
)
from stopout.jobs.forms.form import WrongValueError
from stopout.jobs.keys.model import JOB_FILE

KEYS = {f"{name}.{key.name}": key for name, table in JOB_FILE.walk() for key in table.keys}
PROBES = [
    True, 0, 1, -1, 2.5, 7, 10**9, "", " ", "x", "auto", "two\nlines", "1 mm", "-1 mm", "0 mm",
    "20 mm/s", "50 %", "1/4 in", "40 degC", "100 g/L", "M3", [], ["a"], ["1 mm", "2 mm"], [3, 4],
    ["1 mm", "2 mm", "3 mm"], {}, {"fill": "#c8102e"},
]  # fmt: skip


def leaves(kind):
    """Forms of one kind, each once, by a key that has it."""
    found = {}
    for name, key in KEYS.items():
        form = key.form if kind is Listed else leaf_of(key.form)
        if type(form) is kind:
            found.setdefault(form, name)
    return {name: form for form, name in found.items()}


def refusal(form, value):
    """Why a form refuses a value; empty where it takes it."""
    try:
        form.read(value)
    except WrongValueError as wrong:
        return "; ".join(sentence for _, sentence in wrong.faults)
    return ""


@pytest.mark.parametrize("name", leaves(Amount))
def test_a_quantity_is_read_up_to_its_bounds_and_no_farther(name):
    form = leaves(Amount)[name]
    for bound, is_inside, way, word in (
        (form.above, False, -1, "above"),
        (form.at_least, True, -1, "at least"),
        (form.below, False, 1, "below"),
        (form.at_most, True, 1, "at most"),
    ):
        if not bound:
            continue
        number, unit = bound.split(" ", 1)
        beyond = float(number) + way * max(abs(float(number)) * 1e-3, 1e-3)
        within = float(number) - way * max(abs(float(number)) * 1e-3, 1e-6)
        assert refusal(form, f"{beyond:.9f} {unit}"), bound
        assert f"{word} {bound}" in refusal(form, f"{beyond:.9f} {unit}") or beyond < 0
        assert not refusal(form, f"{within:.9f} {unit}")
        assert (refusal(form, bound) == "") == is_inside
    if form.usual:
        assert [refusal(form, end) for end in form.usual] == ["", ""]
        assert [form.is_usual(form.read(end)) for end in form.usual] == [True, True]
        assert form.read(form.usual[0]) < form.read(form.usual[1])


@pytest.mark.parametrize("name", leaves(Amount))
def test_what_a_bare_number_is_told_to_be_written_as_is_taken(name):
    form = leaves(Amount)[name]
    for bare in ("0", "-1", "1", "7", "1e6", 0, 5, 10**9):
        said = refusal(form, bare)
        readings = re.findall(r'"([^"]+)"', said.partition("has no unit; write ")[2])
        assert not readings or "" in [refusal(form, one) for one in readings], said
        assert readings or "must be " in said


@pytest.mark.parametrize("name", [*leaves(Count), *leaves(Figure)])
def test_a_number_is_read_up_to_its_bounds_and_the_schema_agrees(name):
    form = (leaves(Count) | leaves(Figure))[name]
    if isinstance(form, Count):
        ends = [(form.at_least - 1, False), (form.at_least, True)]
        ends += [(form.at_most, True), (form.at_most + 1, False)]
    else:
        ends = [(form.above, False), (form.above + 1e-6, True)]
        if form.at_most < math.inf:
            ends += [(form.at_most, True), (form.at_most * 1.001, False)]
    for value, is_inside in ends:
        assert (refusal(form, value) == "") == is_inside, value
        assert judged(form.schema(), value) == is_inside, value


@pytest.mark.parametrize("name", [*leaves(TextForm), *leaves(Listed)])
def test_a_text_or_list_may_be_as_long_as_its_schema_says(name):
    form = (leaves(TextForm) | leaves(Listed))[name]
    unit = ["a.ttf"] if isinstance(form, Listed) else "x"
    too_long = unit * (form.longest + 1)
    assert f"at most {form.longest} " in refusal(form, too_long)
    assert not judged(form.schema(), too_long)
    assert "at most" not in refusal(form, unit * form.longest)
    size = form.schema().get("maxItems", form.schema().get("maxLength"))
    assert size == form.longest


@pytest.mark.parametrize("name", KEYS)
def test_what_a_key_takes_its_schema_takes(name):
    form = KEYS[name].form
    leaf = leaf_of(form)
    words = leaf.choices if isinstance(leaf, OneOf) else ()
    for value in [*PROBES, *words, KEYS[name].sample]:
        if refusal(form, value) == "":
            assert judged(form.schema(), value), value
        elif isinstance(leaf, (OneOf, YesNo, Count, Figure)) and form is leaf:
            assert not judged(form.schema(), value), value


@pytest.mark.parametrize(
    "text",
    [
        PRINTED,
        PRINTED + FILM + "\n[stencil]\n",
        CUT + FILM,
        PLATE + FILM,
        PLATE + "\n[stencil]\n",
        SIGN + FILM,
        PLATE.replace("[blank]", "[blanc]"),
        SIGN + '\n[etch]\netchant = "ferric-chloride"\n',
        PLATE + '\n[[coat]]\npaint = "acrylic-lacquer"\nshows = "rest"\n',
    ],
)
def test_tables_of_another_way_are_refused_by_schema_and_reader(text):
    assert not judged(job_schema(), tomllib.loads(text))
    assert mistakes(text)


def test_each_way_of_opening_a_coat_is_valid_as_it_stands():
    for text in (PLATE, SIGN, PRINTED + FILM, CUT, CUT + "\n[stencil]\n"):
        assert judged(job_schema(), tomllib.loads(text))
