"""The page's clocks, sums and record in a real browser whose clock the test moves by hand."""

from __future__ import annotations

import json
from functools import cache

import pytest

from sheet.browser import (
    NO_CHROMIUM,
    PHONE,
    later,
    sign_what_is_here,
    walk_to,
)
from sheet.sheet_jobs import files
from stopout.etching.schedule import remaining_time
from stopout.records import job_record_of

pytestmark = NO_CHROMIUM
FIRST = 1


@cache
def bench():
    return json.loads(files("tag")["sheet.json"])["sheet"]["bench"]


def planned_s():
    return bench()["lanes"][FIRST]["time_s"]


def lane(page, number=FIRST):
    return page.locator(f'.lane[data-lane="{number}"]')


def called(page):
    return int(page.locator("body").get_attribute("data-called") or 0)


def seconds(text):
    """0:59 and 1:02:03 in seconds."""
    total = 0
    for part in text.split(":"):
        total = 60 * total + int(part)
    return total


def keep(page, name):
    return page.locator(f'[data-keep="{name}"]')


def at_the_bath(page):
    walk_to(page, "article[data-act=lower]")


def save(page):
    with page.expect_download() as loading:
        page.locator(".save:visible").first.click()
    return json.loads(loading.value.path().read_text(encoding="utf-8"))


def test_an_etch_clock_runs_on_over_other_steps_reload_sleep_and_hours(opened):
    page = opened()
    at_the_bath(page)
    lane(page).locator(".act").click()
    later(page, 60)
    page.click("#next")
    for tick in page.locator(".unit.here .step .tick input").all():
        tick.check()
    assert "1:00 of" in page.locator("#running a").inner_text().replace("\n", " ")
    page.reload()
    later(page, 60)
    page.click("#back")
    page.click("#back")
    assert page.locator("#running a b").inner_text().startswith("2:00")
    later(page, 3 * 3600)
    page.locator("#running a").click()
    assert lane(page).locator(".clock").inner_text() == "3:02:00"
    assert "OVER by" in lane(page).locator(".word").inner_text()
    lane(page).locator(".act").click()
    later(page, 600)
    page.reload()
    assert lane(page).locator(".clock").inner_text() == "3:02:00"
    assert "lifted after 3:02:00" in lane(page).locator(".word").inner_text()
    assert page.locator("#running a").count() == 0


def test_a_second_tab_shows_the_same_clock_and_can_stop_it(opened):
    page = opened()
    at_the_bath(page)
    lane(page).locator(".act").click()
    other = opened.another()
    at_the_bath(other)
    later(other, 120)
    assert lane(other).locator(".clock").inner_text() == lane(page).locator(".clock").inner_text()
    lane(other).locator(".lift").click()
    page.clock.run_for(1000)
    assert "lifted" in lane(page).locator(".word").inner_text()


def test_it_rings_at_the_look_the_gauge_and_the_lift_once_each(opened):
    page = opened()
    at_the_bath(page)
    lane(page).locator(".act").click()
    for share, word in ((0.5, "Lifted to look"), (0.8, "Lifted to gauge"), (1.0, "Lifted: stop")):
        rung = called(page)
        done = seconds(lane(page).locator(".clock").inner_text())
        later(page, share * planned_s() - done - 5)
        assert called(page) == rung
        later(page, 10)
        assert called(page) == rung + 1
        later(page, 20)
        assert called(page) == rung + 1
        assert word in lane(page).locator(".act").inner_text()
        lane(page).locator(".act").click()
        if share < 1:
            lane(page).locator(".act").click()
    assert "lifted" in lane(page).locator(".word").inner_text()


def test_the_time_out_of_the_bath_is_taken_off_where_it_is_told_and_only_then(opened):
    page = opened()
    at_the_bath(page)
    lane(page).locator(".act").click()
    later(page, 600)
    lane(page).locator(".act").click()
    later(page, 60)
    # Forgotten, it counts as etching: the lift comes early, never late.
    assert lane(page).locator(".clock").inner_text() == "11:00"
    assert "OUT TO BE LOOKED AT" in lane(page).locator(".word").inner_text()
    lane(page).locator(".act").click()
    assert lane(page).locator(".clock").inner_text() == "10:00"
    lane(page).locator(".undo").click()
    assert lane(page).locator(".clock").inner_text() == "11:00"
    later(page, 70)
    assert "still out?" in lane(page).locator(".word").inner_text()
    later(page, 300)
    assert lane(page).locator(".act").inner_text() != "Back in the bath"


# Worked by hand for 60 um: after 600 s a depth of 20 um leaves 600 x 40 / 20 = 1200 s; the gauge
# may be 3 um off: 600 x 37 / 23 = 965 s and 600 x 43 / 17 = 1517 s.
def test_a_measured_depth_corrects_the_time_left_as_by_hand(opened):
    page = opened()
    at_the_bath(page)
    lane(page).locator(".act").click()
    later(page, 600)
    keep(page, "lane.1.depth.0").fill("20")
    said = lane(page).locator(".sum").inner_text()
    assert "Time left = 10:00 × (60 − 20) / 20 = 20:00, from 16:05 to 25:17" in said
    by_core = remaining_time(depth_mm=0.06, measured_depth_mm=0.02, after_s=600.0, error_mm=0.003)
    assert by_core.remaining_s == pytest.approx(1200)
    assert "Lift at 30:00" in said
    page.reload()
    assert keep(page, "lane.1.depth.0").input_value() == "20"
    later(page, 1190)
    assert "OVER" not in lane(page).locator(".word").inner_text()
    later(page, 20)
    assert "OVER by 0:1" in lane(page).locator(".word").inner_text()
    keep(page, "lane.1.depth.0").fill("2")
    assert "tells no rate" in lane(page).locator(".sum").inner_text()
    keep(page, "lane.1.depth.0").fill("61")
    assert "Lift it out" in lane(page).locator(".sum").inner_text()


def test_two_batches_run_side_by_side_each_with_its_own_clock(opened):
    page = opened("batches", PHONE)
    at_the_bath(page)
    lane(page, 1).locator(".act").click()
    later(page, 300)
    lane(page, 2).locator(".act").click()
    later(page, 100)
    assert lane(page, 1).locator(".clock").inner_text() == "6:40"
    assert lane(page, 2).locator(".clock").inner_text() == "1:40"
    assert page.locator("#running a").count() == 2
    lane(page, 1).locator(".lift").click()
    later(page, 100)
    assert lane(page, 1).locator(".clock").inner_text() == "6:40"
    assert lane(page, 2).locator(".clock").inner_text() == "3:20"


def test_the_coupon_gives_the_rate_and_the_rate_each_batchs_time(opened):
    page = opened()
    walk_to(page, "article[data-act=coupon-etch]")
    coupon = lane(page, 0)
    coupon.locator(".act").click()
    later(page, 600)
    coupon.locator(".act").click()
    walk_to(page, "article[data-act=coupon-depth]")
    for k, depth in enumerate(("20", "21", "22")):
        keep(page, f"coupon-depth.{k}").fill(depth)
    # By hand: 21 um in 10 min are 2.1 um/min.
    assert "21 µm / 10:00 = 2.1 µm/min" in page.locator("[data-sum=rate]").first.inner_text()
    walk_to(page, "article[data-act=coupon-stroke]")
    keep(page, "coupon-stroke.0").fill("1,000")
    keep(page, "coupon-stroke.1").fill("1.042")
    # By hand: half of 42 um; 21 um / 21 um is an etch factor of 1.
    assert "= 21 µm an edge" in page.locator("[data-sum=undercut]").inner_text()
    assert "21 µm / 21 µm = 1;" in page.locator("[data-sum=factor]").inner_text()
    at_the_bath(page)
    later(page, 1)
    wanted = planned_s() * bench()["rate_um_per_min"] / 2.1
    said = lane(page).locator(".word").inner_text().removeprefix("to be in the bath for ")
    assert seconds(said) == pytest.approx(wanted, abs=1)


def test_loss_of_weight_tells_the_depth_and_the_baths_metal(opened):
    page = opened()
    walk_to(page, "article[data-act=weigh-before]")
    keep(page, "piece.1.before").fill("1.5")
    walk_to(page, "article[data-act=weigh-after]")
    loss = bench()["loss_g"]
    keep(page, "piece.1.after").fill(f"{1.5 - loss / 2:.6f}")
    # Half the planned loss is half the planned depth.
    assert "= 30 µm" in page.locator('[data-sum=loss][data-piece="1"]').inner_text()
    metal = page.locator("[data-sum=bath]").inner_text()
    assert f"{loss / 2 / bench()['bath_l']:.2g}"[:4] in metal
    keep(page, "piece.1.after").fill("1.6")
    assert "weigh it again" in page.locator('[data-sum=loss][data-piece="1"]').inner_text()


def test_one_file_has_every_piece_clock_and_step_and_the_book_takes_it(opened):
    page = opened()
    walk_to(page, ".step")
    page.click("#skip")
    page.click("#back")
    walk_to(page, "article[data-act=weigh-before]")
    keep(page, "piece.1.before").fill("1.5")
    at_the_bath(page)
    lane(page).locator(".act").click()
    later(page, 1500)
    lane(page).locator(".lift").click()
    walk_to(page, "article[data-act=depth]")
    for k, depth in ((1, "58,5"), (2, "60"), (3, "61.5")):
        keep(page, f"piece.1.d{k}").fill(depth)
    walk_to(page, "article[data-act=weigh-after]")
    keep(page, "piece.1.after").fill("1.4")
    page.reload()
    walk_to(page, ".result")
    assert page.locator('[data-out="all.depth_um"]').inner_text() == "60"
    assert page.locator('[data-out="all.time_min"]').inner_text() == "25"
    keep(page, "result.undercut_um").fill("60")
    keep(page, "piece.1.good").check()
    content = save(page)
    row = content["pieces"][0]
    assert row == {
        "piece": "1", "depth_mm": [0.0585, 0.06, 0.0615], "time_s": 1500, "before_g": 1.5,
        "after_g": 1.4, "is_good": True,
    }  # fmt: skip
    record = job_record_of(json.dumps(content), where="record.json")
    assert record.depth_mm.value == pytest.approx(0.06)
    assert record.time_s == 1500
    assert record.undercut_mm.value == pytest.approx(0.06)
    assert "left out: step 1:" in record.note
    assert [said["word"] for said in content["work"]["clocks"]] == ["in the bath", "lifted"]
    assert json.loads(page.locator("#text").input_value()) == content
    keep(page, "result.undercut_um").fill("about 60")
    page.locator(".save:visible").first.click()
    assert "Nothing was saved" in page.locator("#said").inner_text()


def test_steps_done_again_are_counted_and_nothing_typed_is_lost(opened):
    page = opened()
    walk_to(page, ".step input[type=text]")
    field = page.locator(".unit.here .step input[type=text]").first
    field.fill("12.00")
    for tick in page.locator(".unit.here .step > .tick input").all():
        tick.check()
    page.click("#again")
    assert not page.locator(".unit.here .step > .tick input").first.is_checked()
    assert field.input_value() == "12.00"
    page.click("#view")
    again = [said for said in save(page)["work"]["steps"] if said["word"] == "again"]
    assert again
    assert again[0]["what"].startswith("step ")


def test_a_timer_counts_on_through_reload_and_sleep_and_past_its_time(opened):
    page = opened()
    walk_to(page, ".timer")
    timer = page.locator(".unit.here .timer").first
    target = int(timer.get_attribute("data-target"))
    timer.locator(".start").click()
    later(page, 5)
    assert timer.locator(".clock").inner_text() == "0:05"
    page.reload()
    later(page, target + 55)
    assert timer.locator(".word").inner_text() == "OVER by 1:00"
    assert "over" in timer.get_attribute("class")
    # Ticking its step leaves it alone: nothing but its own button stops it.
    page.locator(".unit.here .step:has(.timer) > .tick input").first.check()
    sign_what_is_here(page)
    later(page, 10)
    timer.locator(".start").click()
    later(page, 60)
    assert timer.locator(".word").inner_text() == "OVER by 1:10"
    log = timer.locator(".log").inner_text()
    assert "started" in log
    assert "stopped" in log


def test_a_sign_saves_what_was_done_and_says_that_it_is_not_for_the_book(opened):
    page = opened("sign")
    page.click("#view")
    content = save(page)
    assert content["pieces"] == []
    assert "etchant" not in content
    assert "Nothing was etched" in page.locator("#said").inner_text()
