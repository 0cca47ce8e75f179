"""No number outside what can be measured is ever printed, also at the bounds of what is taken.

`tests/bench/bench_extremes.py` goes through every bound of every key; these are the worst of them.
"""

from __future__ import annotations

import pytest

from cli.extremes import BATH, NOT_MEASURED, bounds, faults, texts_of, with_value
from cli.shop_files import JOB

WORST = [
    ("etch", "depth", '"1 um"'),
    ("etch", "rate", '"0.001 um/min"'),
    ("bath", "volume", '"10000 L"'),
    ("machine", "power", '"1 mW"'),
    ("clearing", "speed", '"0.01 mm/s"'),
]


@pytest.mark.parametrize(("table", "key", "text"), WORST)
def test_what_a_plan_says_can_be_measured(table, key, text):
    assert (table, key, text) in set(bounds()) | {("bath", "volume", '"10000 L"')}
    texts = texts_of(with_value(JOB + BATH, table, key, text))
    assert list(faults(texts)) == []


@pytest.mark.parametrize(
    "text", ["nan mm", "is inf", "-Infinity", "8e29 mm", "4.028e-05 L", "1234567890123 mm"]
)
def test_what_cannot_be_measured_is_found(text):
    assert NOT_MEASURED.search(text)


@pytest.mark.parametrize("text", ["info", "0.12 mm", "20 mm/s", "finance", "1e", "M30", "1/e2"])
def test_words_and_plain_numbers_pass(text):
    assert not NOT_MEASURED.search(text)
