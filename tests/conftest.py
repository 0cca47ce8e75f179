"""Settings that hold for every test."""

from __future__ import annotations

import gc
from functools import cache

import pytest
import typer.testing
from hypothesis import settings

from effort import tries
from remembered import remember_pictures_and_pages

# No test is timed: a busy machine or a cold import would fail a property that holds.
settings.register_profile("stopout", deadline=None, max_examples=tries(100))
settings.load_profile("stopout")
# As the command does: a plan makes a million small objects and drops few of them.
gc.set_threshold(200_000)
# The parser of the command line is made once, not for each line that is tried.
typer.testing._get_command = cache(typer.testing._get_command)
remember_pictures_and_pages()


@pytest.fixture(autouse=True)
def no_shop_book_but_the_tests_own(monkeypatch, tmp_path_factory):
    """No test reads or writes the book of whoever runs it; processes inherit this."""
    monkeypatch.setenv("STOPOUT_BOOK", str(tmp_path_factory.getbasetemp() / "no-shop-book.sqlite"))
