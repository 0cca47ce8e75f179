"""Small faults put into the code, one at a time: does a test notice?

    python tests/bench/mutate_code.py map [TESTS ...]        which tests run which lines: once
    python tests/bench/mutate_code.py run [--each 80] [--seed 1] [--room mask] [--jobs 2]
    python tests/bench/mutate_code.py by-hand                the faults of mutate_code_by_hand.toml

A fault swaps an operator or two arguments, moves a constant (a number by one or by a tenth),
settles a condition, or drops a line, a filter or a named argument. Each is tried in a forked
process, in which the tests stand ready, against those that run its line: those of its own room
first, the quickest before the slower; the first that fails ends it. What only an import runs is
tried against all tests of its room. A line that no test runs counts as a fault that nobody noticed.
The same seed gives the same faults.
What can change nothing that is seen is left out by the rules of `mutate_code_exclusions.toml`, each
with its reason; the run tells how many it left out.
Needs `coverage` besides `.[test]`. What it showed last stands in docs/explanation/tests.md.
"""

from __future__ import annotations

import argparse
import gc
import importlib.abc
import importlib.util
import inspect
import os
import sys
import tempfile
import tomllib
from collections import Counter
from pathlib import Path
from types import CodeType, FunctionType

import pytest
from code_faults import ROOMS, SOURCE, Fault, faulty, sampled
from code_map import Mapper, read_map, runs_in_a_test, tests_of
from forks import caches, clear, forked, own_objects, quiet, silent, tell

TOP = Path(__file__).parents[2]
BY_HAND = Path(__file__).with_name("mutate_code_by_hand.toml")
TESTED_BY = (*ROOMS, "reference", "property", "planning", "plan_file", "signs", "tables", "danger")
TESTED_BY += ("cli", "sheet", "records")


class _Faulty(importlib.abc.MetaPathFinder, importlib.abc.SourceLoader):
    """Loads the one module from its changed tree or text."""

    def __init__(self, file, changed):
        self.name = "stopout." + file.removesuffix(".py").replace("/", ".")
        self.name = self.name.removesuffix(".__init__")
        self.path = str(SOURCE / file)
        self.code = compile(changed, self.path, "exec")

    def find_spec(self, fullname, path, target=None):
        if fullname == self.name:
            return importlib.util.spec_from_file_location(fullname, self.path, loader=self)
        return None

    def get_filename(self, fullname):
        return self.path

    def get_data(self, path):
        return Path(path).read_bytes()

    def get_code(self, fullname):
        return self.code


def functions_of(code):
    """Yield the codes of a module's own functions and its classes' methods."""
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            if inner.co_flags & inspect.CO_OPTIMIZED:
                yield (inner.co_qualname, inner.co_firstlineno), inner
            else:
                yield from functions_of(inner)


class Score:
    """Keeps as many trials going as wanted, tells what nobody noticed, and counts."""

    def __init__(self, mapped, jobs):
        self.mapped, self.jobs = mapped, jobs
        self.going: dict[int, Fault] = {}
        self.counts: Counter[tuple[str, str]] = Counter()

    def of_all(self, faults, work):
        """Try faults; `work` makes one's work from it and its tests."""
        for fault in faults:
            tests, seconds = tests_of(fault, self.mapped)
            if not tests:
                self.tell(fault, "no test")
                continue
            self.going[forked(work(fault, tests), seconds)] = fault
            if len(self.going) >= self.jobs:
                self.wait()
        while self.going:
            self.wait()

    def wait(self):
        child, status = os.wait()
        self.tell(self.going.pop(child), "survived" if status == 0 else "noticed")

    def tell(self, fault, outcome):
        self.counts[fault.file.split("/")[0], outcome] += 1
        if outcome != "noticed":
            tell(f"{outcome:9} {fault} {fault.text.splitlines()[0]}: {fault.source}")

    def print(self, seed):
        rooms = dict.fromkeys(room for room, _ in self.counts)
        total: Counter[str] = Counter()
        for room in (*rooms, "all"):
            words = ("noticed", "survived", "no test")
            counts = Counter({word: self.counts[room, word] for word in words})
            total += counts
            counts = total if room == "all" else counts
            share = counts["noticed"] / sum(counts.values())
            tell(f"{room:9} {counts['noticed']} of {sum(counts.values())} noticed ({share:.1%})")
        tell(f"seed {seed}")


def outside_functions(fault, tests):
    """A module's own line runs at its import: nothing of the code may be imported before."""
    return afresh(_Faulty(fault.file, faulty(fault)), tests)


def afresh(changed, tests):
    """Work that imports everything anew, the one module as changed, and runs tests."""

    def work():
        silent()
        sys.meta_path.insert(0, changed)
        return pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-n", "0", *tests])

    return work


class Trials:
    """A plugin that tries faults in functions, in the place of running the tests."""

    def __init__(self, faults, score):
        self.faults, self.score = faults, score

    def pytest_runtestloop(self, session):
        self.session = session
        self.items = {item.nodeid: item for item in session.items}
        session.config._tmp_path_factory.getbasetemp()
        sys.modules["remembered"].keep_apart()
        self.live: dict[str, list[FunctionType]] = {}
        for one in own_objects(FunctionType):
            self.live.setdefault(one.__code__.co_filename, []).append(one)
        if not self.live:
            raise SystemExit("none of the code's functions is found: no fault would be put in")
        self.caches = caches()
        gc.freeze()
        for fault in self.faults[:: max(1, len(self.faults) // 10)]:
            tests, seconds = tests_of(fault, self.score.mapped)
            tests = tests[:20]
            if tests and os.waitpid(forked(self.in_function(None, tests), seconds), 0)[1] != 0:
                raise SystemExit(f"the tests of {fault.file} fail without a fault: map anew")
        self.score.of_all(self.faults, self.in_function)
        return True

    def in_function(self, fault, tests):
        def work():
            quiet(self.session)
            clear(self.caches)
            if fault is not None:
                self.put_in(_Faulty(fault.file, faulty(fault)))
            items = [self.items[test] for test in tests if test in self.items]
            for item, following in zip(items, [*items[1:], None], strict=True):
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
                if self.session.testsfailed:
                    return 1
            return 0 if items else 1

        return work

    def put_in(self, changed):
        """Give the functions that there are their changed code; what is not yet there follows."""
        sys.meta_path.insert(0, changed)
        codes = dict(functions_of(changed.code))
        for function in self.live.get(changed.path, ()):
            own = function.__code__
            function.__code__ = codes.get((own.co_qualname, own.co_firstlineno), own)


def run(options):
    """Try a sample and tell the score."""
    score = Score(read_map(), options.jobs)
    rooms = [options.room] if options.room else ROOMS
    chosen, left_out = sampled(options.each, options.seed, rooms)
    for line in left_out:
        tell(line)
    import_libraries()
    inside = [one for one in chosen if runs_in_a_test(one, score.mapped)]
    score.of_all([one for one in chosen if one not in inside], outside_functions)
    files = {test.split("::")[0] for one in inside for test in tests_of(one, score.mapped)[0]}
    with tempfile.TemporaryDirectory() as place:
        os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = place
        words = ["-q", "-p", "no:cacheprovider", "-n", "0", *sorted(files)]
        pytest.main(words, plugins=[Trials(inside, score)])
    score.print(options.seed)


def by_hand():
    """Try the faults that once went unnoticed, each against the tests that ought to notice it."""
    import_libraries()
    for fault in tomllib.loads(BY_HAND.read_text(encoding="utf-8"))["fault"]:
        text = (SOURCE / fault["file"]).read_text(encoding="utf-8")
        if text.count(fault["was"]) != 1:
            raise SystemExit(f"{fault['file']} no longer has once: {fault['was']}")
        changed = _Faulty(fault["file"], text.replace(fault["was"], fault["is"]))
        _, status = os.waitpid(forked(afresh(changed, fault["tests"]), 100), 0)
        # 1 is a test that failed; anything else, no test that ran.
        words = {0: "survived", 1: "noticed"}
        tell(f"{words.get(os.waitstatus_to_exitcode(status), 'not tried')}: {fault['fault']}")


def import_libraries():
    """Import what every trial needs, but nothing of the code itself."""
    for name in ("numpy", "scipy.optimize", "scipy.spatial", "shapely", "cv2", "pydantic"):
        __import__(name)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ways = parser.add_subparsers(dest="way", required=True)
    mapping = ways.add_parser("map")
    mapping.add_argument("tests", nargs="*")
    mapping.add_argument("--jobs", type=int, default=2)
    trying = ways.add_parser("run")
    trying.add_argument("--each", type=int, default=80)
    trying.add_argument("--seed", type=int, default=1)
    trying.add_argument("--room", choices=ROOMS)
    trying.add_argument("--jobs", type=int, default=2)
    ways.add_parser("by-hand")
    options = parser.parse_args()
    os.chdir(TOP)
    if options.way != "map":
        run(options) if options.way == "run" else by_hand()
        return
    tests = options.tests or [f"tests/{name}" for name in TESTED_BY]
    pytest.main(
        ["-q", "-p", "no:cacheprovider", "-n", "0", *tests],
        plugins=[Mapper(options.jobs, adds=bool(options.tests))],
    )


if __name__ == "__main__":
    main()
