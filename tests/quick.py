"""Names the test files nearest to what was changed, the nearest first: `bash tests/run --quick`.

Nearest are the tests that were changed themselves, then those that import a changed module, then
those of a room by the same name, then the structure of the house.
"""

from __future__ import annotations

import ast
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
TESTS = ROOT / "tests"
ALWAYS = ("test_directions.py", "test_docstrings.py", "jobs/test_schema.py", "test_units.py")


def main() -> None:
    """Print the files, one a line."""
    print("\n".join(str(path.relative_to(ROOT)) for path in chosen(changed())))


def changed() -> list[Path]:
    """The files that differ from the main line, committed or not."""
    base = _git("merge-base", "HEAD", "main") or _git("rev-parse", "HEAD~1") or ["HEAD"]
    names = _git("diff", "--name-only", base[0]) + _git(
        "ls-files", "--others", "--exclude-standard"
    )
    return [ROOT / name for name in dict.fromkeys(names) if (ROOT / name).is_file()]


def chosen(files: list[Path]) -> list[Path]:
    """The test files to run for some changed files, the nearest first."""
    tests = sorted(path for path in TESTS.rglob("test_*.py") if "bench" not in path.parts)
    own = [path for path in tests if path in files]
    modules = [module for module in map(_module, files) if module]
    importing = [path for path in tests if _imported(path) & set(modules)]
    rooms = {module.split(".")[1] for module in modules if "." in module}
    beside = [path for path in tests if path.parent.name in rooms]
    # Few files near by may take long: within a step the short ones come first.
    near = [path for some in (own, importing) for path in sorted(some, key=_size)]
    found = [*near, *(TESTS / name for name in ALWAYS), *sorted(beside, key=_size)]
    if any(path.suffix == ".md" for path in files):
        found.append(TESTS / "docs" / "test_documents.py")
    return list(dict.fromkeys(found))


def _module(path: Path) -> str:
    """The dotted name of a module of ours or of a helper of the tests, "" for other files."""
    if path.suffix != ".py":
        return ""
    if path.is_relative_to(ROOT / "src"):
        inner = path.relative_to(ROOT / "src").with_suffix("")
    elif path.is_relative_to(TESTS):
        inner = path.relative_to(TESTS).with_suffix("")
    else:
        return ""
    return ".".join(inner.parts).removesuffix(".__init__")


def _imported(path: Path) -> set[str]:
    """The modules that a file imports, and whatever is taken from them, by dotted name."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return names


def _size(path: Path) -> int:
    return path.stat().st_size


def _git(*words: str) -> list[str]:
    done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=False)
    return done.stdout.split("\n")[:-1] if done.returncode == 0 else []


if __name__ == "__main__":
    main()
