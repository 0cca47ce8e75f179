"""Names that people type for metals, paints and baths: the one place that says what is meant.

Job file, command line, own tables and shop book all ask here. A known name is taken for its id or
is refused with a reason; only a word that nobody knows gets a guess at its spelling, and a guess
never leads from one element or chemical to another.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from stopout.errors import TableError
from stopout.tables.read import TableEntry, builtin_table, cached, raw_table
from stopout.values import Kind

# Tables whose entries go by names that people type.
NAMED = {
    "materials": "material",
    "etchants": "etchant",
    "electrolytes": "electrolyte",
    "resists": "paint",
}
# How alike a word must be to a name to be taken for a misspelling of it: one letter in five.
_ALIKE = 0.8
# Shorter stems turn up within other words by chance.
_SHORTEST_STEM = 4
_LONGEST = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedName:
    """A name that is known and not taken. `is_barred`: a shop's own table cannot add it either."""

    ident: str
    message: str
    remedy: str
    kind: Kind
    source: str
    is_barred: bool

    @property
    def sentence(self) -> str:
        """Why not, and what to do, as one text without the last full stop."""
        return f"{self.message}. {self.remedy}".rstrip(".")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What a name stands for: an id, and why it is refused if it is."""

    ident: str
    name: str
    refused: RefusedName | None = None


def canonical(table: str, word: str) -> str:
    """The id that a word stands for; the word itself where it is no name that is known.

    Parameters
    ----------
    table : str
        A key of `NAMED`; other tables have no names, and the word comes back as it is.
    word : str
        As typed.
    """
    if table not in NAMED or word in raw_table(table):
        return word
    known = _index(table).get(_plain(word))
    return word if known is None else known.ident


def refused_name(table: str, word: str) -> RefusedName | None:
    """Why a name is refused; None where it is taken, or not known."""
    if table not in NAMED or word in raw_table(table):
        return None
    known = _index(table).get(_plain(word))
    if known is None:
        return None
    return known.refused or _by_rule(table, known.ident)


def unknown(table: str, word: str) -> TableError:
    """The error for a word that no table has: its reason, a guess at its spelling, or the list."""
    what = NAMED[table]
    refused = refused_name(table, word)
    if refused is not None:
        return TableError(f"{what} {word!r} is refused: {refused.sentence}")
    near = _nearest(table, word)
    if near is None:
        return TableError(f"unknown {what} {word!r}; the table has {', '.join(raw_table(table))}")
    refused = near.refused or _by_rule(table, near.ident)
    if refused is not None:
        return TableError(
            f"unknown {what} {word!r}; if {near.name!r} is meant, it is refused: {refused.sentence}"
        )
    return TableError(f"unknown {what} {word!r}; did you mean {near.ident!r}?")


def names_of(table: str) -> tuple[tuple[str, str, RefusedName | None], ...]:
    """Every known name of a table: the name, the id, and why it is refused if it is."""
    return tuple((known.name, known.ident, known.refused) for known in _index(table).values())


def listed(table: str) -> dict[str, tuple[tuple[str, ...], RefusedName | None]]:
    """The names of each answer of a table: of an id, or of a refusal with its reason.

    Parameters
    ----------
    table : str
        A key of `NAMED`.
    """
    found: dict[str, tuple[list[str], RefusedName | None]] = {}
    for name, ident, refused in names_of(table):
        refused = refused or _by_rule(table, ident)
        answer = ident if refused is None else refused.ident
        names, _ = found.setdefault(answer, ([], refused))
        names.append(name)
    return {answer: (tuple(names), refused) for answer, (names, refused) in found.items()}


def _plain(word: str) -> str:
    """A name without what typing adds to it: capitals, blanks, hyphens, accents, low digits."""
    # Compatibility forms turn low and high digits into plain ones.
    letters = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", word[: 2 * _LONGEST]))
    kept = "".join(c for c in letters.casefold() if c.isalnum())
    return kept.replace("sulph", "sulf").replace("nized", "nised")


@cached
def _index(table: str) -> dict[str, _Known]:
    """Every known name of a table by its plain form; ids first, which no name overrules."""
    found: dict[str, _Known] = {}
    for known in _entries(table):
        found.setdefault(_plain(known.name), known)
    return found


def _entries(table: str) -> Iterator[_Known]:
    for ident in raw_table(table):
        yield _Known(ident=ident, name=ident)
    data = builtin_table("names")
    for ident, names in data["alias"].get(table, {}).items():
        for name in (ident, *names):
            yield _Known(ident=ident, name=name)
    for ident, entry in data["refused"].items():
        if entry["table"] != table:
            continue
        refused = _refused(ident)
        for name in (ident, *entry["names"]):
            # A name keeps its own spelling: an own table may go by it.
            yield _Known(ident=_as_id(name), name=name, refused=refused)
    if table == "materials":
        elements = data["elements"]
        refused = _element()
        for name in (*elements["metals"], *elements["others"]):
            yield _Known(ident=name, name=name, refused=refused)


def _as_id(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")


@cached
def _refused(ident: str) -> RefusedName:
    raw = builtin_table("names")["refused"][ident]
    return _refused_name(ident, TableEntry(raw, where=f"names.toml: refused.{ident}"))


def _refused_name(ident: str, data: TableEntry, **given: bool) -> RefusedName:
    kind, source, _ = data.provenance()
    return data.record(RefusedName, ident=ident, kind=kind, source=source, **given)


def _by_rule(table: str, ident: str) -> RefusedName | None:
    """The rule that refuses a bath or a paint with whatever metal; None where there is none."""
    if ident in raw_table(table):
        return None
    for code, rule in builtin_table("refusals").items():
        whatever = not rule.get("materials")
        if rule["level"] == "stop" and whatever and ident in rule.get(table, ()):
            data = TableEntry(rule, where=f"refusals.toml: {code}")
            return _refused_name(ident, data, is_barred=True)
    return None


def _element() -> RefusedName:
    data = TableEntry(builtin_table("names")["elements"], where="names.toml: elements")
    return _refused_name("element", data, is_barred=True)


def _nearest(table: str, word: str) -> _Known | None:
    """The known name that a word is most likely a misspelling of; None where that is not sure."""
    # difflib is only needed for a mistake, and costs more to import than a table to read.
    from difflib import SequenceMatcher

    plain = _plain(word)[:_LONGEST]
    stems = _stems_in(plain)
    best, alike = None, _ALIKE
    matcher = SequenceMatcher(autojunk=False)
    matcher.set_seq2(plain)
    for name, known in _index(table).items():
        matcher.set_seq1(name)
        if matcher.quick_ratio() < alike or matcher.ratio() < alike:
            continue
        # What is spelt as an element or an ion is one, and no misspelling of another.
        if stems != _stems_in(name) and stems - _stems_in(name):
            continue
        best, alike = known, matcher.ratio()
    return best


def _stems_in(plain: str) -> frozenset[str]:
    """The stems within a word, without those that are only part of a longer one there."""
    found = {stem for stem in _stems() if stem in plain}
    return frozenset(
        stem for stem in found if not any(stem != other and stem in other for other in found)
    )


@cached
def _stems() -> frozenset[str]:
    data = builtin_table("names")
    named = [*data["stems"]["words"], *data["elements"]["metals"], *data["elements"]["others"]]
    for entry in data["refused"].values():
        # Of a metal's names those that are one word are names of elements and alloys.
        if entry["table"] == "materials":
            named += [name for name in entry["names"] if name.isalpha()]
    named += ["sodium", "potassium", "calcium", "magnesium", "lithium", "barium", "titanium"]
    named += ["cadmium", "beryllium", "mercury", "silver", "nickel", "cobalt", "chromium", "lead"]
    return frozenset(_plain(name) for name in named if len(name) >= _SHORTEST_STEM)
