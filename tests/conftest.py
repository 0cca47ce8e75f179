"""Settings that hold for every test."""

from __future__ import annotations

import gc
import os
import time
from functools import cache
from pathlib import Path

import pytest
from _pytest.runner import runtestprotocol
from hypothesis import HealthCheck, settings

from effort import tries
from one_chromium import chromium, tab  # noqa: F401

HERE = Path(__file__).parent
# Files that take longest, half by half; what plans the same jobs stands in the same half.
LONGEST = (
    (
        "docs/test_documents.py",
        "cli/test_new.py",
        "sheet/test_page_in_browser.py",
        "sheet/test_page_clocks.py",
        "sheet/test_bench_sheet.py",
        "planning/test_clearing_plan.py",
        "planning/test_codes.py",
    ),
    (
        "web/test_in_browser.py",
        "series/test_series.py",
        "coupons/test_inspect.py",
        "coupons/test_scans.py",
        "coupons/test_reading.py",
        "cli/test_read.py",
        "cli/test_from_nothing.py",
    ),
)
# No test is timed: a busy machine or a cold import would fail a property that holds.
settings.register_profile(
    "stopout",
    deadline=None,
    max_examples=tries(100),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("stopout")
# As the command does: a plan makes a million small objects and drops few of them.
gc.set_threshold(200_000)
# What a test writes need not outlast a power cut: a folder's files wait ten times for the disk.
os.fsync = lambda handle: None
IS_WORKER = "PYTEST_XDIST_WORKER" in os.environ


def pytest_addoption(parser):
    parser.addoption("--seconds", type=float, help="begin no test after so many seconds")


def pytest_configure(config):
    config.began_s = time.monotonic()
    if IS_WORKER or not config.getoption("numprocesses", None):
        # Whoever only hands out tests to workers loads nothing, and they begin a second earlier.
        _begin()


def _begin():
    import typer.testing

    from remembered import remember_all

    # The parser of the command line is made once, not for each line that is tried.
    typer.testing._get_command = cache(typer.testing._get_command)
    remember_all()


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config, items):
    """Two workers begin at both halves: each with what takes long, so that they end together."""
    if config.getoption("--seconds") is not None:
        # The nearest come first.
        return
    of = {}
    for item in items:
        of.setdefault(item.path.relative_to(HERE).as_posix(), []).append(item)
    first, second = ([item for name in half for item in of.pop(name, ())] for half in LONGEST)
    short = [item for some in of.values() for item in some]
    cut = max(0, len(items) // 2 - len(first))
    items[:] = [*first, *short[:cut], *second, *short[cut:]]


def pytest_collection_finish():
    """Eight thousand tests stay until the end: nothing searches them for what can go."""
    gc.freeze()


def pytest_runtest_setup(item):
    most_s = item.config.getoption("--seconds")
    if most_s is not None and time.monotonic() - item.config.began_s > most_s:
        pytest.skip("the seconds are used up")


@pytest.fixture(autouse=True, scope="session")
def no_shop_book_but_the_tests_own(tmp_path_factory):
    """No test reads or writes the book of whoever runs it, nor do fixtures that tests share."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("STOPOUT_BOOK", str(tmp_path_factory.getbasetemp() / "no-shop-book.sqlite"))
        yield


@pytest.fixture(name="whole_pictures")
def pictures_as_large_as_a_person_gets_them():
    from remembered import whole_pictures

    with whole_pictures():
        yield


@pytest.fixture(name="whole_sheets")
def sheets_as_a_person_prints_them():
    from remembered import whole_sheets

    with whole_sheets():
        yield


@pytest.fixture(autouse=True, scope="session")
def plans_are_shared_by_the_workers_of_a_run(tmp_path_factory):
    from remembered import share_in

    own = tmp_path_factory.getbasetemp()
    share_in((own.parent if IS_WORKER else own) / "plans")


if IS_WORKER:

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_protocol(item, nextitem):
        """A worker tells of a test that passed in one message, not in five: most take less."""
        reports = runtestprotocol(item, nextitem=nextitem, log=False)
        told = [one for one in reports if one.when == "call" or not one.passed or one.sections]
        if any(one.when == "call" for one in told):
            told[-1].duration += sum(one.duration for one in reports if one not in told)
        else:
            told = reports
        for report in told:
            item.ihook.pytest_runtest_logreport(report=report)
        return True


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
