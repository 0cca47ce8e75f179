"""The rules of a document's style sheets: nesting written out, media chosen, the rest told.

Nesting follows CSS Nesting 1, media queries Media Queries 4 for a screen with a still picture.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

# Media that a still picture on a screen is, and is not.
_SHOWN = frozenset({"", "all", "screen", "only screen", "only all"})
_NOT_SHOWN = re.compile(
    r"(?:only\s+)?(?:print|speech|aural|braille|embossed|handheld|projection|tty|tv)\b.*"
    r"|not\s+(?:all|screen)|(?:(?:screen|all)\s+and\s+)?\(prefers-color-scheme:\s*dark\)"
    r"|\((?:prefers-reduced-motion:\s*reduce|prefers-contrast:\s*\w+|forced-colors:\s*active)\)"
)
_SHOWN_TOO = re.compile(
    r"(?:(?:screen|all)\s+and\s+)?\((?:prefers-color-scheme:\s*light"
    r"|prefers-reduced-motion:\s*no-preference|forced-colors:\s*none)\)|not\s+print"
)
_STILL = frozenset({"charset", "namespace", "keyframes", "-webkit-keyframes", "-moz-keyframes",
                    "page", "font-feature-values", "font-palette-values", "counter-style",
                    "property"})  # fmt: skip
# Selectors (Selectors 4) that the check rendering does not know.
_NEWER = re.compile(r":(?!first-child\b)|~(?!=)|\[[^\]]*\s[is]\s*\]")
_DEEPEST = 12


@dataclass(frozen=True, slots=True)
class Tellers:
    """Whom to tell what.

    `note` of what is left aside without harm, `fault` of what cannot be read, `ask` of what would
    change the picture and is not done (with its name in front), `alone` of what the check
    rendering does not know.
    """

    note: Callable[[Any, str], None]
    fault: Callable[[Any, str], None]
    ask: Callable[[Any, str, str], None]
    alone: Callable[[Any, str], None]


def matcher_of(sheets: list[Any], tell: Tellers) -> Any:
    """Compile every rule of the sheets in order; selectors that cannot be read are asked."""
    import cssselect2
    import tinycss2

    matcher = cssselect2.Matcher()
    order = 0
    for sheet in sheets:
        rules = tinycss2.parse_stylesheet("".join(sheet.itertext()), True, True)
        if not _applies(str(sheet.get("media", "")), sheet, tell):
            continue
        for selector_text, declarations in _plain(rules, sheet, "", tell, 0):
            order += 1
            if _NEWER.search(selector_text):
                tell.alone(sheet, f"the selector '{selector_text.strip()[:30]}'")
            try:
                for selector in cssselect2.compile_selector_list(selector_text):
                    if selector.pseudo_element is None:
                        matcher.add_selector(selector, (order, declarations))
            except cssselect2.SelectorError:
                words = f"the selector '{selector_text.strip()[:60]}' is not read"
                tell.ask(sheet, "selector", words)
    return matcher


def _plain(
    rules: list[Any], sheet: Any, above: str, tell: Tellers, depth: int
) -> Iterator[tuple[str, list[Any]]]:
    """Yield (selector list, declarations) of every rule that applies, nested ones written out."""
    import tinycss2

    if depth > _DEEPEST:
        tell.fault(sheet, "its rules are nested too deeply")
        return
    for rule in rules:
        if rule.type == "qualified-rule":
            selector = tinycss2.serialize(rule.prelude)
            yield from _opened(rule.content, sheet, _within(selector, above), tell, depth)
        elif rule.type == "at-rule":
            yield from _at_rule(rule, sheet, above, tell, depth)


def _opened(
    content: Any, sheet: Any, selector: str, tell: Tellers, depth: int
) -> Iterator[tuple[str, list[Any]]]:
    import tinycss2

    inner = tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True)
    nested = [item for item in inner if item.type in ("qualified-rule", "at-rule")]
    yield selector, [item for item in inner if item.type == "declaration"]
    if nested:
        tell.alone(sheet, "nested rules")
        yield from _plain(nested, sheet, selector, tell, depth + 1)


def _within(selector: str, above: str) -> str:
    """Write a nested selector out (CSS Nesting 1, section 3.1)."""
    if not above:
        return selector
    written = []
    for part in re.split(r",(?![^(\[]*[)\]])", selector):
        if "&" in part:
            written.append(part.replace("&", f":is({above})"))
        else:
            written.append(f":is({above}) {part.strip()}")
    return ", ".join(written)


def _at_rule(
    rule: Any, sheet: Any, above: str, tell: Tellers, depth: int
) -> Iterator[tuple[str, list[Any]]]:
    import tinycss2

    word = rule.lower_at_keyword
    if word == "font-face":
        tell.note(
            sheet, "a font brought by the file was left aside; name its file in artwork.fonts"
        )
    elif word == "media" and rule.content is not None:
        query = tinycss2.serialize(rule.prelude)
        if not _applies(query, sheet, tell):
            return
        if above:
            yield from _opened(rule.content, sheet, above, tell, depth + 1)
        else:
            inner = tinycss2.parse_rule_list(rule.content, True, True)
            yield from _plain(inner, sheet, above, tell, depth + 1)
    elif word not in _STILL:
        tell.ask(sheet, f"@{word}", f"the rules of '@{rule.at_keyword[:40]}' are not read")


def _applies(query: str, sheet: Any, tell: Tellers) -> bool:
    plain = [" ".join(part.split()).lower() for part in query.split(",")]
    if any(part in _SHOWN or _SHOWN_TOO.fullmatch(part) for part in plain):
        return True
    tell.alone(sheet, "styles for some media only")
    open_ones = [part for part in plain if not _NOT_SHOWN.fullmatch(part)]
    if open_ones:
        tell.ask(sheet, "@media", f"whether the styles for '{open_ones[0][:40]}' hold is not known")
    return False
