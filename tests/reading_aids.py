"""What the published engine of rules for reading aids finds amiss on a page, quickly.

Contrast takes it longest. That follows from colours, weight and size of the type and what it
stands on: the engine measures it where it meets such a combination for the first time on a page.
"""

from __future__ import annotations

import pytest

axe = pytest.importorskip("axe_playwright_python.sync_playwright")

# The engine is loaded once a document; what is hidden is taken out while it looks, where asked.
LOOK = """async ({ rules, contrast, isAlone }) => {
    const styles = new Map();
    const style = (element) => {
        if (!styles.has(element)) styles.set(element, getComputedStyle(element));
        return styles.get(element);
    };
    const combination = (element) => {
        const own = style(element), all = [own.color, own.fontSize, own.fontWeight, own.textShadow];
        for (let on = element; on; on = on.parentElement) {
            const { backgroundColor, backgroundImage, opacity, filter } = style(on);
            all.push([backgroundColor, backgroundImage, opacity, filter].join());
        }
        return all.filter((one, k) => one !== all[k - 1]).join(" ");
    };
    const hasWords = (element) => element.matches("input, textarea, select") ||
        Array.from(element.childNodes).some(node => node.nodeType === 3 && node.data.trim());
    const parts = isAlone ? document.querySelectorAll("main > section, section.here > *") : [];
    const apart = Array.from(parts).filter(element => style(element).display === "none");
    const kept = apart.map(element => [element, document.createComment("")]);
    kept.forEach(([element, place]) => element.replaceWith(place));
    const resultTypes = ["violations", "incomplete"], wrong = [];
    const look = async (what, options) => {
        const found = await axe.run(what, { ...options, resultTypes, elementRef: true });
        wrong.push(...found.violations);
        return found.incomplete.flatMap(rule => rule.nodes.map(node => node.element));
    };
    if (rules) await look(document, { rules });
    const met = window.combinationsMet ??= new Set(), all = new Map();
    for (const element of document.body.querySelectorAll("*")) {
        if (!hasWords(element) || !element.checkVisibility()) continue;
        const one = combination(element);
        if (!met.has(one)) all.set(one, [...(all.get(one) ?? []), element]);
    }
    const runOnly = { type: "rule", values: contrast };
    const measure = async (some) => some.length ? look(some, { runOnly }) : [];
    // Where something lies over the first of a kind the engine cannot tell: it looks at the others.
    const open = await measure(Array.from(all.values(), ([first]) => first));
    const untold = new Set(open.map(combination));
    await measure(Array.from(untold).flatMap(one => (all.get(one) ?? []).slice(1)));
    all.forEach((_, one) => untold.has(one) || met.add(one));
    kept.forEach(([element, place]) => place.replaceWith(element));
    return [apart.length, wrong.map(one => [one.id, ...one.nodes.map(node => node.html)])];
}"""
LEVEL_AA = ("color-contrast",)
LEVEL_AAA = (*LEVEL_AA, "color-contrast-enhanced")


def amiss(page, *, contrast=LEVEL_AA, whole=True, alone=False):
    """Look at a page: which rules are broken by which elements, and how many were taken out.

    `contrast` are its rules (WCAG 2, 1.4.3 and 1.4.6); without `whole` none but these are looked
    at. `alone` takes out what screens of the bench sheet hide but the one that is shown.
    """
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate(axe.Axe().axe_script)
    rules = {rule: {"enabled": False} for rule in LEVEL_AAA} if whole else None
    asked = {"rules": rules, "contrast": contrast, "isAlone": alone}
    apart, wrong = page.evaluate(LOOK, asked)
    return wrong, apart
