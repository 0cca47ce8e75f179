"""Settings that hold for every test."""

from __future__ import annotations

import pytest
from hypothesis import settings

# No test is timed: a busy machine or a cold import would fail a property that holds.
settings.register_profile("stopout", deadline=None)
settings.load_profile("stopout")


@pytest.fixture(autouse=True)
def no_shop_book_but_the_tests_own(monkeypatch, tmp_path_factory):
    """No test reads or writes the book of whoever runs it; processes inherit this."""
    monkeypatch.setenv("STOPOUT_BOOK", str(tmp_path_factory.getbasetemp() / "no-shop-book.sqlite"))
