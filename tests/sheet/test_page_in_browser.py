"""The page for a phone in a real browser: screens, ticks, width, reading aids, keyboard.

Needs Chromium on the machine; without it these tests are skipped, and say so.
"""

from __future__ import annotations

import pytest

from reading_aids import LEVEL_AAA, amiss
from sheet.browser import (
    DESK,
    NO_CHROMIUM,
    PHONE,
    SMALL,
    place_of,
    walk_to,
)

pytestmark = NO_CHROMIUM
WIDE = "document.documentElement.scrollWidth"


@pytest.mark.parametrize(
    ("name", "size"),
    [("tag", SMALL), ("tag", DESK), ("sign", SMALL), ("sign", PHONE), ("stopped", SMALL)],
)
def test_nothing_has_to_be_moved_sideways(opened, name, size):
    page = opened(name, size)
    assert page.evaluate(WIDE) <= size["width"]
    if name != "stopped":
        page.click("#view")
        assert page.evaluate(WIDE) <= size["width"]


def test_the_keyboard_alone_walks_the_whole_sheet_and_a_reload_loses_nothing(opened):
    page = opened("tag", PHONE)
    at, most = place_of(page)
    assert at == 1
    typed = {}
    for k in range(1, most):
        assert place_of(page) == (k, most)
        assert page.evaluate(WIDE) <= PHONE["width"]
        typed |= through_the_screen_by_keys(page, f"{k}")
        if k % RELOADED == 0:
            page.reload()
            assert place_of(page) == (k, most)
            assert page.evaluate(WIDE) <= PHONE["width"]
            page.focus("#next")
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.tagName") == "H2"
    page.click("#back")
    page.reload()
    assert place_of(page) == (most - 1, most)
    kept = page.evaluate(
        "names => names.map(name => [name, document.getElementById(name).value])", list(typed)
    )
    assert dict(kept) == typed
    done = page.locator("article.step:not([data-optional]) > .tick input:checked").count()
    clocked = page.locator("article.step[data-act=lower]").count()
    assert done > 30
    assert clocked == 1


# Every so many screens; at the end whatever was typed on any of them.
RELOADED = 5


# What can be reached from here on, in the order of the page, to the button that goes on; and from
# now on which of it is reached.
AHEAD = """() => {
    const next = document.querySelector("#next"), here = document.activeElement;
    const all = Array.from(document.querySelectorAll("a[href], button, input, textarea, summary"));
    const ahead = all.filter(one => (one === next || !one.disabled) && one.checkVisibility() &&
        (here === document.body || here.compareDocumentPosition(one) & 4));
    window.ahead = ahead.slice(0, ahead.indexOf(next) + 1);
    window.reached = [];
    window.hear ??= (document.addEventListener("focusin",
        event => window.reached.push(window.ahead.indexOf(event.target))), true);
    return window.ahead.map(one => [one.id, one.type || "", Boolean(one.closest(".hold"))]);
}"""


def through_the_screen_by_keys(page, words):
    """Tab to the button that goes on; tick a hold, write at each place on the way."""
    typed, ahead = {}, page.evaluate(AHEAD)
    for name, kind, is_hold in ahead:
        page.keyboard.press("Tab")
        if kind == "checkbox" and is_hold:
            page.keyboard.press("Space")
        elif kind == "text":
            page.keyboard.type(words)
            typed[name] = words
    assert page.evaluate("window.reached") == [*range(len(ahead))]
    return typed


def test_ticks_can_be_taken_back_and_values_changed(opened):
    page = opened()
    walk_to(page, ".step .tick")
    tick = page.locator(".unit.here .step .tick input").first
    tick.check()
    tick.uncheck()
    page.reload()
    assert not page.locator(".unit.here .step .tick input").first.is_checked()


def test_a_hold_lets_nobody_on_until_checked_and_signed(opened):
    page = opened()
    walk_to(page, ".hold")
    assert page.locator("#next").is_disabled()
    for box in page.locator(".unit.here .hold input[type=checkbox]").all():
        box.check()
    assert page.locator("#next").is_disabled()
    for name in page.locator(".unit.here .hold input[type=text]").all():
        name.fill("M. R., 9:15")
    at, _ = place_of(page)
    page.click("#next")
    assert place_of(page)[0] == at + 1


def test_every_screen_of_a_dangerous_stage_shows_its_danger(opened):
    """By the page's own structure: a box in full on the first screen, a line on the others."""
    page = opened()
    bare = page.evaluate(
        """() => Array.from(document.querySelectorAll("section"))
            .filter(section => section.querySelector(".box") ||
                /^(Wear|Dangers)/.test(section.querySelector(".unit p")?.textContent || ""))
            .flatMap(section => {
                const units = Array.from(section.querySelectorAll(".unit[data-screen]"));
                const screens = new Set(units.map(unit => unit.dataset.screen));
                return Array.from(screens).filter(at => !units.some(unit =>
                    unit.dataset.screen === at && (unit.querySelector(".box, .reminder") ||
                        /^(Wear|Dangers)/.test(unit.querySelector("p").textContent))));
            })"""
    )
    assert bare == []
    walk_to(page, ".reminder")
    assert page.locator(".unit.here .reminder:visible").count() == 1
    assert page.locator("main h2:visible").count() == 1


def test_the_phones_own_way_back_goes_to_the_screen_before(opened):
    page = opened()
    walk_to(page, ".step")
    at, most = place_of(page)
    page.locator(".unit.here .step .tick input").first.check()
    page.click("#next")
    page.go_back()
    assert place_of(page) == (at, most)
    assert page.locator(".unit.here .step .tick input").first.is_checked()
    page.click("text=Emergency")
    assert page.locator("#emergency").is_visible()
    page.go_back()
    assert page.locator("#place").is_visible()


def has_heard(page, words):
    """Wait until a tab knows what another has kept: the browser tells it in its own time."""
    page.wait_for_function("words => Object.values(localStorage).join().includes(words)", arg=words)


def test_a_second_tab_writes_beside_the_first_and_not_over_it(opened):
    page = opened()
    other = opened.another()
    walk_to(page, ".step input[type=text]")
    page.locator(".unit.here .step input[type=text]").first.fill("12.00")
    has_heard(other, "12.00")
    other.reload()
    walk_to(other, ".step input[type=text]")
    field = other.locator(".unit.here .step input[type=text]")
    assert field.first.input_value() == "12.00"
    other.locator(".unit.here .step .tick input").first.check()
    page.locator(".unit.here .step input[type=text]").first.fill("12.10")
    page.reload()
    assert page.locator(".unit.here .step .tick input").first.is_checked()
    assert page.locator(".unit.here .step input[type=text]").first.input_value() == "12.10"


# Of the dark page only the colours are another's.
@pytest.mark.parametrize(
    ("size", "theme", "whole"),
    [(SMALL, "light", True), (PHONE, "dark", False)],
    ids=["light", "dark"],
)
def test_reading_aids_find_nothing_amiss_on_any_screen_and_text_stands_out_seven_to_one(
    opened, size, theme, whole
):
    """The rules of a published engine, WCAG 2 level AAA contrast (7:1) among them.

    It looks at the whole page on the last screen and in the whole sheet, on the others at what
    they show.
    """
    page = opened("tag", size, theme)
    walk_to(page, "article[data-act=lower]")
    page.locator(".unit.here .lane .act").first.click()
    page.clock.fast_forward(3 * 3600 * 1000)
    page.clock.run_for(1000)
    assert page.locator(".lane.over").count() == 1
    walk_to(page, ".result")
    # The engine waits by the page's own clock.
    page.clock.resume()
    how = {"contrast": LEVEL_AAA, "whole": whole}
    at, most = place_of(page)
    assert at == most
    found = {at: amiss(page, **how)[0]}
    while at > 1:
        page.evaluate("document.querySelector('#back').click()")
        at, _ = place_of(page)
        found[at], hidden = amiss(page, **how, alone=True)
        assert hidden > 5
        assert page.evaluate(WIDE) <= size["width"]
    page.evaluate("document.querySelector('#view').click()")
    found[0], _ = amiss(page, **how)
    assert len(found) == most + 1
    assert {at: wrong for at, wrong in found.items() if wrong} == {}


def test_what_is_pressed_with_gloves_is_large(opened):
    """15 mm at the usual 96 dots per inch are 57 px; ticks are pressed with their whole line."""
    page = opened()
    walk_to(page, "article[data-act=lower]")
    page.locator(".unit.here .lane .act").first.click()
    shown = ".unit.here .tick, .unit.here .lane button, #next, #back, #running a"
    for target in page.locator(shown).all():
        if target.is_visible():
            assert target.bounding_box()["height"] >= 48, target.inner_text()
    for main in page.locator("#next, .unit.here .lane .act, .unit.here .tick").all():
        if main.is_visible():
            assert main.bounding_box()["height"] >= 57, main.inner_text()


def test_the_keyboard_alone_starts_a_clock(opened):
    page = opened()
    walk_to(page, "article[data-act=lower]")
    page.locator(".unit.here .lane .act").first.focus()
    page.keyboard.press("Enter")
    assert page.locator("#running a").count() == 1
