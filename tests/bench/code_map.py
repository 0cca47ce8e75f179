"""Which tests run which lines of the rooms whose faults are tried."""

from __future__ import annotations

import gc
import json
import os
import sys
import tempfile
import time
from itertools import groupby
from pathlib import Path

import pytest
from code_faults import ROOMS, SOURCE
from forks import caches, clear, forked, quiet, tell

MAP = Path(__file__).parents[2] / "build" / "mutation-map.json"
# Of the tests that run a line, those of its own room are asked first, the quickest before the
# slower, up to this many seconds together.
PATIENCE_S = 8.0
PATIENCE_AT_IMPORT_S = 16.0


def read_map():
    """The seconds of each test, and which tests run each line of each file."""
    told = json.loads(MAP.read_text(encoding="utf-8"))
    names = list(told["seconds"])
    lines = {
        file: {line: [names[k] for k in some] for line, some in own.items()}
        for file, own in told["lines"].items()
    }
    return {"seconds": told["seconds"], "lines": lines}


def write_map(seconds, lines):
    """Tests by their numbers: whole or not at all, since a run may read it meanwhile."""
    number = {test: k for k, test in enumerate(seconds)}
    told = {
        file: {
            line: [number[test] for test in some if test in number] for line, some in own.items()
        }
        for file, own in lines.items()
    }
    MAP.parent.mkdir(exist_ok=True)
    half = MAP.with_suffix(f".{os.getpid()}")
    half.write_text(json.dumps({"seconds": seconds, "lines": told}), encoding="utf-8")
    half.replace(MAP)


class Mapper:
    """A plugin that keeps the lines of the rooms that each test runs, and how long it takes.

    Each file of tests runs in a process of its own. What is made once for several tests is of all
    of them.
    """

    def __init__(self, jobs, *, adds):
        self.jobs = jobs
        self.going: dict[int, Path] = {}
        known = read_map() if adds and MAP.exists() else {}
        self.seconds: dict[str, float] = known.get("seconds", {})
        self.lines: dict[str, dict[str, list[str]]] = known.get("lines", {})

    def pytest_runtestloop(self, session):
        session.config._tmp_path_factory.getbasetemp()
        sys.modules["remembered"].keep_apart()
        self.forget({item.nodeid for item in session.items})
        self.caches = caches()
        gc.freeze()
        with tempfile.TemporaryDirectory() as self.place:
            for path, items in groupby(session.items, key=lambda item: item.path):
                self.going[forked(self.of(session, list(items)), 600)] = path
                if len(self.going) >= self.jobs:
                    self.wait()
            while self.going:
                self.wait()
        return True

    def forget(self, again):
        """Drop what is known of tests that are mapped again: the code may have changed since."""
        for lines in self.lines.values():
            for line, tests in lines.items():
                lines[line] = [test for test in tests if test not in again]

    def of(self, session, items):
        def work():
            quiet(session)
            clear(self.caches)
            watch = _Watch(items)
            session.config.pluginmanager.register(watch)
            for item, following in zip(items, [*items[1:], None], strict=True):
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            (Path(self.place) / str(os.getpid())).write_text(watch.told(), encoding="utf-8")
            return 0

        return work

    def wait(self):
        child, _ = os.wait()
        path, told = self.going.pop(child), Path(self.place) / str(child)
        if not told.exists():
            tell(f"left out, for its process ended: {path.relative_to(MAP.parents[1])}")
            return
        told = json.loads(told.read_text(encoding="utf-8"))
        self.seconds |= told["seconds"]
        for file, lines in told["lines"].items():
            for line, tests in lines.items():
                known = self.lines.setdefault(file, {}).setdefault(line, [])
                mine = set(known)
                known += [sys.intern(test) for test in tests if test not in mine]
        write_map(self.seconds, self.lines)
        tell(f"{len(self.seconds)} tests mapped")


class _Watch:
    """A plugin that sees in one process which lines each test runs, and each shared fixture."""

    def __init__(self, items):
        import coverage

        self.kept = coverage.Coverage(
            data_file=None, include=[str(SOURCE / room / "*") for room in ROOMS]
        )
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()
        self.users: dict[str, list[str]] = {}
        self.now = ""
        for item in items:
            for name in item.fixturenames:
                self.users.setdefault(f"made once: {name}", []).append(item.nodeid)
        self.kept.start()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        self.now = item.nodeid
        self.kept.switch_context(self.now)
        begun = time.process_time()
        yield
        self.seconds[item.nodeid] = time.process_time() - begun
        self.now = ""
        self.kept.switch_context(self.now)
        return True

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        if fixturedef.scope == "function":
            return (yield)
        self.kept.switch_context(f"made once: {fixturedef.argname}")
        made = yield
        self.kept.switch_context(self.now)
        return made

    def pytest_runtest_logreport(self, report):
        if report.failed or report.skipped:
            self.failed.add(report.nodeid)

    def told(self):
        self.kept.stop()
        data = self.kept.get_data()
        lines = {
            str(Path(file).relative_to(SOURCE)): {
                line: sorted(self.tests_of(contexts))
                for line, contexts in data.contexts_by_lineno(file).items()
            }
            for file in data.measured_files()
        }
        return json.dumps({"seconds": self.seconds, "lines": lines})

    def tests_of(self, contexts):
        tests = {one for context in contexts for one in self.users.get(context, [context])}
        return tests & set(self.seconds) - self.failed


def runs_in_a_test(fault, mapped):
    """Tell whether a test runs the fault's lines; what only an import runs is tried afresh."""
    lines = mapped["lines"].get(fault.file, {})
    own = range(fault.lines[0], fault.lines[1] + 1)
    return fault.is_in_function and any(lines.get(str(line)) for line in own)


def tests_of(fault, mapped):
    """The tests to ask of those that run the fault's lines, and how long they take.

    A line that only an import runs is run by every test of its room, and by any that uses its file.
    """
    seconds = mapped["seconds"]
    lines = mapped["lines"].get(fault.file, {})
    room = f"tests/{fault.file.split('/')[0]}/"
    inside = runs_in_a_test(fault, mapped)
    first, last = fault.lines if inside else (0, 10**9)
    wanted = {one for line, some in lines.items() if first <= int(line) <= last for one in some}
    if not inside:
        wanted |= {test for test in seconds if test.startswith(room)}
    near = {one: (not one.startswith(room), seconds[one], one) for one in wanted & set(seconds)}
    chosen, left = [], PATIENCE_S if inside else PATIENCE_AT_IMPORT_S
    for test in sorted(near, key=near.__getitem__):
        left -= seconds[test]
        if left < 0 and chosen:
            break
        chosen.append(test)
    return chosen, sum(seconds[test] for test in chosen)
