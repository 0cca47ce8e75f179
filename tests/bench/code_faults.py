"""What small faults a module may get, and which of them change nothing that is seen."""

from __future__ import annotations

import ast
import random
import re
import tomllib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

SOURCE = Path(__file__).parents[2] / "src" / "stopout"
ROOMS = ("mask", "clearing", "etching", "outcome", "program", "jobs")
EXCLUSIONS = Path(__file__).with_name("mutate_code_exclusions.toml")

SWAPS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.And: ast.Or, ast.Or: ast.And,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div, ast.Mod: ast.Mult, ast.Pow: ast.Mult,
}  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """One fault: the file, which node of its tree (and its text), what is done to it."""

    file: str
    node: int
    kind: str
    line: int
    lines: tuple[int, int]
    is_in_function: bool
    text: str
    source: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line} {self.kind}"


def sampled(each, seed, rooms):
    """The same faults for the same seed, as many from each room, less what is left out by rule."""
    chosen, rules, total = [], Exclusions(), 0
    for room in rooms:
        all_of = [one for path in sorted((SOURCE / room).rglob("*.py")) for one in faults(path)]
        total += len(all_of)
        left = rules.left(all_of)
        chosen += random.Random(f"{seed} {room}").sample(left, min(each, len(left)))
    return chosen, rules.told(total)


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
        pairs = enumerate(zip(node.args, node.args[1:], strict=False))
        yield from (f"arguments swapped {k}" for k, pair in pairs if _differ(*pair))
    if isinstance(node, ast.AugAssign) or (isinstance(node, ast.Assign) and _sets_anew(node)):
        yield "line dropped"


def _differ(one, other):
    return not isinstance(one, ast.Starred) and ast.dump(one) != ast.dump(other)


def _sets_anew(node):
    """Tell whether a statement changes what is there, so that it runs on without it."""
    first = node.targets[0]
    if isinstance(first, ast.Name):
        return any(isinstance(one, ast.Name) and one.id == first.id for one in ast.walk(node.value))
    return isinstance(first, (ast.Attribute, ast.Subscript))


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
    elif what == "arguments swapped":
        k = int(place)
        node.args[k : k + 2] = node.args[k + 1], node.args[k]


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
    text = path.read_text(encoding="utf-8")
    tree, sources = ast.parse(text), text.splitlines()
    functions = (one for one in ast.walk(tree) if isinstance(one, ast.FunctionDef))
    inside = {inner for one in functions for part in one.body for inner in ast.walk(part)}
    found, start = [], {}
    for number, node in enumerate(nodes(tree)):
        for child in ast.iter_child_nodes(node):
            start[child] = getattr(child, "lineno", start.get(node, 1))
        line = getattr(node, "lineno", start.get(node, 1))
        end = line if isinstance(node, ast.If) else getattr(node, "end_lineno", line)
        file = str(path.relative_to(SOURCE))
        more = (ast.unparse(node) if any(kinds(node)) else "", sources[line - 1].strip())
        found += [
            Fault(file, number, kind, line, (line, end), node in inside, *more)
            for kind in kinds(node)
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


class Exclusions:
    """The rules by which faults that change nothing are left out, and how many each left out."""

    def __init__(self):
        self.rules = tomllib.loads(EXCLUSIONS.read_text(encoding="utf-8"))["rule"]
        self.counts: Counter[str] = Counter()

    def excludes(self, fault):
        for rule in self.rules:
            told = {"file": fault.file, "kind": fault.kind, "text": fault.text}
            told["line"] = fault.source
            if all(re.search(rule[name], told[name]) for name in told if name in rule):
                self.counts[rule["reason"]] += 1
                return True
        return False

    def left(self, found):
        return [one for one in found if not self.excludes(one)]

    def told(self, total):
        """Yield how many of all faults were left out, and for which reasons."""
        yield f"{self.counts.total()} of {total} possible faults left out:"
        for reason, count in self.counts.items():
            yield f"{count:5} {reason}"
