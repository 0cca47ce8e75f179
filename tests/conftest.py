"""Settings that hold for every test."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

# No test is timed: a busy machine or a cold import would fail a property that holds.
settings.register_profile("stopout", deadline=None)
settings.load_profile("stopout")


@pytest.fixture(autouse=True)
def no_shop_book_but_the_tests_own(monkeypatch, tmp_path_factory):
    """No test reads or writes the book of whoever runs it; processes inherit this."""
    monkeypatch.setenv("STOPOUT_BOOK", str(tmp_path_factory.getbasetemp() / "no-shop-book.sqlite"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """A test is skipped for what a machine lacks; the build machine lacks nothing."""
    return as_on_a_machine_that_lacks_nothing((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector):
    """Likewise for a whole file."""
    return as_on_a_machine_that_lacks_nothing((yield))


def as_on_a_machine_that_lacks_nothing(report):
    is_skip = report.skipped and not hasattr(report, "wasxfail")
    if is_skip and os.environ.get("STOPOUT_LACKS_NOTHING"):
        report.outcome = "failed"
        report.longrepr = f"skipped, where nothing may be: {report.longrepr}"
    return report
