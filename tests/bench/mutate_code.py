"""Small faults put into the code, one at a time: does a test notice?

    python tests/bench/mutate_code.py map [TESTS ...]        which tests run which lines: once
    python tests/bench/mutate_code.py run [--each 80] [--seed 1] [--room mask] [--jobs 2]

A fault swaps an operator, moves a constant (a number by one or by a tenth), settles a condition, or
drops a line, a filter or a named argument. Each is tried in a forked process, in which the tests
stand ready, against those that run its line, the quickest first; the first that fails ends it. A
line that no test runs counts as a fault that nobody noticed. The same seed gives the same faults.
Needs `coverage` besides `.[test]`. What it showed last stands in docs/explanation/tests.md.
"""

from __future__ import annotations

import argparse
import ast
import gc
import importlib.abc
import importlib.util
import inspect
import json
import os
import random
import resource
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FunctionType

import pytest

TOP = Path(__file__).parents[2]
SOURCE = TOP / "src" / "stopout"
ROOMS = ("mask", "clearing", "etching", "outcome", "program", "jobs")
TESTED_BY = (*ROOMS, "reference", "property", "planning", "plan_file", "signs", "tables", "danger")
MAP = TOP / "build" / "mutation-map.json"
# Of the tests that run a line, the quickest are asked, up to this many seconds together.
PATIENCE_S = 10.0
MEMORY_BYTES = 4 << 30

SWAPS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.And: ast.Or, ast.Or: ast.And,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div, ast.Mod: ast.Mult, ast.Pow: ast.Mult,
}  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """One fault: the file, which node of its tree, what is done to it."""

    file: str
    node: int
    kind: str
    line: int
    lines: tuple[int, int]
    is_in_function: bool

    def __str__(self) -> str:
        return f"{self.file}:{self.line} {self.kind}"


# What can be done to a tree.


def nodes(tree):
    """Yield the nodes that a fault may change: no annotation, text, or list of exported names."""
    stack = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, ast.JoinedStr) or _is_bookkeeping(node):
            continue
        yield node
        for name, value in reversed(list(ast.iter_fields(node))):
            if name in ("annotation", "returns", "decorator_list", "bases"):
                continue
            children = value if isinstance(value, list) else [value]
            stack += [one for one in reversed(children) if isinstance(one, ast.AST)]


def _is_bookkeeping(node):
    if isinstance(node, (ast.Import, ast.ImportFrom, ast.Raise)):
        return True
    if isinstance(node, ast.Assign):
        return any(isinstance(one, ast.Name) and one.id == "__all__" for one in node.targets)
    return isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"


def kinds(node):
    """Yield what can be done to one node."""
    if isinstance(node, ast.Compare):
        yield from (f"compare {place}" for place in range(len(node.ops)))
    elif isinstance(node, (ast.BinOp, ast.BoolOp, ast.AugAssign)) and type(node.op) in SWAPS:
        yield "operator"
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.Not, ast.USub)):
        yield "sign dropped"
    elif isinstance(node, ast.Constant) and isinstance(node.value, (bool, int, float)):
        yield "constant"
    elif isinstance(node, (ast.If, ast.IfExp)):
        yield from ("condition true", "condition false")
    elif isinstance(node, (ast.Break, ast.Continue)) or (
        isinstance(node, ast.Expr) and not isinstance(node.value, ast.Constant)
    ):
        yield "line dropped"
    elif isinstance(node, ast.comprehension):
        yield from (f"filter dropped {place}" for place in range(len(node.ifs)))
    elif isinstance(node, ast.Call):
        yield from (f"argument dropped {k}" for k, one in enumerate(node.keywords) if one.arg)
    if isinstance(node, ast.AugAssign):
        yield "line dropped"


def change(node, kind):
    """Put the fault in."""
    what, _, place = kind.rpartition(" ") if kind[-1].isdigit() else (kind, "", "0")
    if what == "compare":
        node.ops[int(place)] = SWAPS[type(node.ops[int(place)])]()
    elif what == "operator":
        node.op = SWAPS[type(node.op)]()
    elif what == "constant":
        value = node.value
        wider = value * 1.1 if isinstance(value, float) and value else value + 1
        node.value = not value if isinstance(value, bool) else wider
    elif what.startswith("condition"):
        node.test = ast.copy_location(ast.Constant(what == "condition true"), node.test)
    elif what == "filter dropped":
        del node.ifs[int(place)]
    elif what == "argument dropped":
        del node.keywords[int(place)]


class _Drop(ast.NodeTransformer):
    def __init__(self, gone):
        self.gone = gone

    def visit(self, node):
        if node is self.gone:
            if isinstance(node, ast.UnaryOp):
                return node.operand
            return ast.copy_location(ast.Pass(), node)
        return self.generic_visit(node)


def faults(path):
    """Every fault that one module may get."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    functions = (one for one in ast.walk(tree) if isinstance(one, ast.FunctionDef))
    inside = {inner for one in functions for part in one.body for inner in ast.walk(part)}
    found, start = [], {}
    for number, node in enumerate(nodes(tree)):
        for child in ast.iter_child_nodes(node):
            start[child] = getattr(child, "lineno", start.get(node, 1))
        line = getattr(node, "lineno", start.get(node, 1))
        end = line if isinstance(node, ast.If) else getattr(node, "end_lineno", line)
        file = str(path.relative_to(SOURCE))
        found += [
            Fault(file, number, kind, line, (line, end), node in inside) for kind in kinds(node)
        ]
    return found


def faulty(fault):
    """The tree of the module with the fault, and the changed line as text."""
    tree = ast.parse((SOURCE / fault.file).read_text(encoding="utf-8"))
    node = next(one for number, one in enumerate(nodes(tree)) if number == fault.node)
    if fault.kind in ("line dropped", "sign dropped"):
        tree = _Drop(node).visit(tree)
    else:
        change(node, fault.kind)
    return ast.fix_missing_locations(tree)


# Which tests run which lines.


class Mapper:
    """A plugin that keeps the lines of the rooms that each test runs, and how long it takes."""

    def __init__(self):
        import coverage

        self.coverage = coverage.Coverage(
            data_file=None, include=[str(SOURCE / room / "*") for room in ROOMS]
        )
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()

    def pytest_sessionstart(self):
        self.coverage.start()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        self.coverage.switch_context(item.nodeid)
        begun = time.process_time()
        yield
        self.seconds[item.nodeid] = time.process_time() - begun
        self.coverage.switch_context("")
        return True

    def pytest_runtest_logreport(self, report):
        if report.failed or report.skipped:
            self.failed.add(report.nodeid)

    def pytest_sessionfinish(self):
        self.coverage.stop()
        data = self.coverage.get_data()
        lines: dict[str, dict[int, list[str]]] = {}
        for file in data.measured_files():
            lines[str(Path(file).relative_to(SOURCE))] = {
                line: [test for test in tests if test not in self.failed]
                for line, tests in data.contexts_by_lineno(file).items()
            }
        MAP.parent.mkdir(exist_ok=True)
        MAP.write_text(json.dumps({"seconds": self.seconds, "lines": lines}), encoding="utf-8")


def tests_of(fault, mapped):
    """The quickest tests that run the fault's lines. A line that runs at import is run by all."""
    seconds = mapped["seconds"]
    lines = mapped["lines"].get(fault.file, {})
    wanted: set[str] = set()
    for line in range(fault.lines[0], fault.lines[1] + 1):
        wanted |= set(lines.get(str(line), ()))
    if "" in wanted:  # it runs while the module is imported
        wanted |= {
            test for test in seconds if test.startswith(f"tests/{fault.file.split('/')[0]}/")
        }
    chosen, left = [], PATIENCE_S
    for test in sorted(wanted & set(seconds), key=lambda one: (seconds[one], one)):
        left -= seconds[test]
        if left < 0 and chosen:
            break
        chosen.append(test)
    return chosen, PATIENCE_S - max(left, 0.0)


# Trying them.


class _Faulty(importlib.abc.MetaPathFinder, importlib.abc.SourceLoader):
    """Loads the one module from its changed tree."""

    def __init__(self, fault):
        self.name = "stopout." + fault.file.removesuffix(".py").replace("/", ".")
        self.name = self.name.removesuffix(".__init__")
        self.path = str(SOURCE / fault.file)
        self.code = compile(faulty(fault), self.path, "exec")

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


def forked(work, seconds):
    """Begin some work in a process that may not take for ever, nor all the memory."""
    child = os.fork()
    if child:
        return child
    status = 1
    try:
        # A fault may run for ever or ask for all the memory: that is noticed too.
        limit = int(10 + 3 * seconds)
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit))
        resource.setrlimit(resource.RLIMIT_DATA, (MEMORY_BYTES, MEMORY_BYTES))
        status = int(work())
    finally:
        os._exit(status)


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
            source = (SOURCE / fault.file).read_text(encoding="utf-8").splitlines()
            line = source[fault.line - 1].strip()
            os.write(STDOUT, f"{outcome:9} {fault}: {line}\n".encode())

    def print(self, seed):
        rooms = dict.fromkeys(room for room, _ in self.counts)
        total: Counter[str] = Counter()
        for room in (*rooms, "all"):
            words = ("noticed", "survived", "no test")
            counts = Counter({word: self.counts[room, word] for word in words})
            total += counts
            counts = total if room == "all" else counts
            share = counts["noticed"] / sum(counts.values())
            os.write(STDOUT, f"{room:9} {counts['noticed']} of {sum(counts.values())} noticed "
                     f"({share:.1%})\n".encode())  # fmt: skip
        os.write(STDOUT, f"seed {seed}\n".encode())


# The tests print to their own; this is what the person sees.
STDOUT = os.dup(1)


def outside_functions(fault, tests):
    """A module's own line runs at its import: nothing of the code may be imported before."""

    def work():
        silence = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silence, 1)
        os.dup2(silence, 2)
        sys.meta_path.insert(0, _Faulty(fault))
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
        self.live: dict[str, list[FunctionType]] = {}
        for one in gc.get_objects():
            if type(one) is FunctionType:
                self.live.setdefault(one.__code__.co_filename, []).append(one)
        for fault in self.faults[:: max(1, len(self.faults) // 10)]:
            tests, seconds = tests_of(fault, self.score.mapped)
            tests = tests[:20]
            if tests and os.waitpid(forked(self.in_function(None, tests), seconds), 0)[1] != 0:
                raise SystemExit(f"the tests of {fault.file} fail without a fault: map anew")
        self.score.of_all(self.faults, self.in_function)
        return True

    def in_function(self, fault, tests):
        def work():
            terminal = self.session.config.pluginmanager.get_plugin("terminalreporter")
            terminal._tw._file = open(os.devnull, "w")  # noqa: SIM115
            if fault is not None:
                self.put_in(_Faulty(fault))
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


def sampled(each, seed, rooms):
    """The same faults for the same seed, as many from each room."""
    chosen = []
    for room in rooms:
        all_of = [one for path in sorted((SOURCE / room).rglob("*.py")) for one in faults(path)]
        chosen += random.Random(f"{seed} {room}").sample(all_of, min(each, len(all_of)))
    return chosen


def run(options):
    """Try a sample and tell the score."""
    score = Score(json.loads(MAP.read_text(encoding="utf-8")), options.jobs)
    chosen = sampled(options.each, options.seed, [options.room] if options.room else ROOMS)
    # Libraries, but nothing of the code itself.
    for name in ("numpy", "scipy.optimize", "scipy.spatial", "shapely", "cv2", "pydantic"):
        __import__(name)
    os.chdir(TOP)
    score.of_all([one for one in chosen if not one.is_in_function], outside_functions)
    inside = [one for one in chosen if one.is_in_function]
    files = {test.split("::")[0] for one in inside for test in tests_of(one, score.mapped)[0]}
    with tempfile.TemporaryDirectory() as place:
        os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = place
        words = ["-q", "-p", "no:cacheprovider", "-n", "0", *sorted(files)]
        pytest.main(words, plugins=[Trials(inside, score)])
    score.print(options.seed)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ways = parser.add_subparsers(dest="way", required=True)
    ways.add_parser("map").add_argument("tests", nargs="*")
    trying = ways.add_parser("run")
    trying.add_argument("--each", type=int, default=80)
    trying.add_argument("--seed", type=int, default=1)
    trying.add_argument("--room", choices=ROOMS)
    trying.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    if options.way == "run":
        run(options)
        return
    os.chdir(TOP)
    tests = options.tests or [f"tests/{name}" for name in TESTED_BY]
    pytest.main(["-q", "-p", "no:cacheprovider", "-n", "0", *tests], plugins=[Mapper()])


if __name__ == "__main__":
    main()
