"""From an empty book to a first plate: five answers, a coupon, its scan, a ten-line job planned.

Nothing is taken from a demo: the machine is known by its label and its control alone, and what
the beam and the paint really do is only in the renderer of the scan, which shares nothing with the
tool.
"""

from __future__ import annotations

import json
import math
import re

import pytest

from cli.shop_files import run
from coupons.scan_renderer import Look, Truth, as_file, render

# What nobody knows: 1/e^2 radii, and a paint that clears at 0.4 J/mm2 in the middle of a line.
RADIUS_MM, FLUENCE = {"x": 0.070, "y": 0.055}, 0.4
TRUTH = Truth(
    radius_mm=RADIUS_MM,
    threshold_j_per_mm={
        axis: math.sqrt(math.pi / 2) * w * FLUENCE for axis, w in RADIUS_MM.items()
    },
    width_sd_mm=0.0015,
    fill_width_mm=0.2,
)
ANSWERS = {
    "wavelength": '"450 nm"',
    "power": '"unknown"',
    "top_speed": '"150 mm/s"',
    "bed": '["300 mm", "300 mm"]',
    # One line of the control's manual: the beam at full power.
    "power_word": "1000",
    "beam_on": '"M3"',
}
JOB = """
job = { name = "Valve tag", quantity = 20 }
artwork = { file = "tag.svg" }
blank = { material = "aluminium", width = "40 mm", height = "18 mm", thickness = "1.5 mm", worked_side = "front" }
resist = { paint = "epoxy-two-part" }
machine = "bench"
etch = { etchant = "sodium-hydroxide", strength = "100 g/L", temperature = "40 degC", depth = "0.06 mm" }
"""  # noqa: E501
TAG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="12mm" viewBox="0 0 30 12">'
    '<path d="M3 2h24v1.2h-24zM3 5h10v4h-10z"/></svg>'
)


def test_five_answers_a_coupon_and_its_scan_lead_to_a_plate(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("STOPOUT_BOOK", str(tmp_path / "empty.db"))
    job = tmp_path / "tag.toml"
    job.write_text(JOB)
    (tmp_path / "tag.svg").write_text(TAG)
    assert len(JOB.split("\n")) <= 10

    def typed(*words):
        status, out, said = run(capsys, monkeypatch, *words)
        assert status == 0, said
        return out, said

    figures = [word for key, value in ANSWERS.items() for word in ("--set", f"{key}={value}")]
    typed("shop", "machine", "add", "bench", *figures)

    # Before anything is measured the plan says so, in spans, and names the coupon.
    typed("plan", job, "--draft", "--out", tmp_path / "unmeasured")
    before = json.loads((tmp_path / "unmeasured/plan.json").read_text())
    assert before["verdict"]["unmeasured"]
    (line,) = [one for one in before["verdict"]["lines"] if one["code"] == "machine-unmeasured"]
    assert "stopout coupon clearing" in line["message"]
    assert {span["name"] for span in before["spans"]} == {
        "spot", "power", "acceleration", "cornering", "step",
    }  # fmt: skip

    coupon = tmp_path / "coupon"
    typed("coupon", "clearing", job, "--size", "72x34", "--out", coupon)
    laid = json.loads((coupon / "coupon.json").read_text())
    doses = [one["line_dose_j_per_mm"] for one in laid["lines"]]
    assert max(doses) > 30 * min(doses)
    scan = as_file(render(laid, TRUTH, Look(dpi=600, rotation_deg=2)), dpi=600)
    (coupon / "scan.png").write_bytes(scan)
    out, _ = typed(
        "read", coupon / "scan.png", "--coupon", coupon, "--tone", "plain", "--keep", "--json"
    )
    told = json.loads(out)
    for axis, w in RADIUS_MM.items():
        assert told["spot_mm"][axis][0] == pytest.approx(2 * w, rel=0.05)
        threshold = TRUTH.threshold_j_per_mm[axis]
        assert told["line_dose_threshold_j_per_mm"][axis][0] == pytest.approx(threshold, rel=0.05)

    # Two timed runs, by a head of 130 mm/s and 900 mm/s^2 that nobody knows either.
    runs = tmp_path / "runs"
    typed("coupon", "timing", job, "--out", runs)
    assert "M3" not in (runs / "long.nc").read_text()
    known = json.loads((runs / "timing.json").read_text())
    long, short = known["long"], known["short"]
    took = (
        long["count"] * (long["length_mm"] / 130 + 130 / 900),
        short["count"] * 2 * math.sqrt(short["length_mm"] / 900),
    )
    fast = ("shop", "timed", runs, "--long", "10s", "--short", "4s")
    status, _, told = run(capsys, monkeypatch, *fast)
    assert status == 2
    assert "check the times" in told
    out, _ = typed("shop", "timed", runs, "--long", f"{took[0]:.1f}s", "--short", f"{took[1]:.1f}s")
    assert float(re.search(r"acceleration ([0-9]+)", out)[1]) == pytest.approx(900, rel=0.02)
    assert float(re.search(r"top speed ([0-9.]+)", out)[1]) == pytest.approx(130, rel=0.02)

    typed("plan", job, "--out", tmp_path / "plan")
    plan = json.loads((tmp_path / "plan/plan.json").read_text())
    assert plan["verdict"]["state"] == "ready"
    assert {span["name"] for span in plan["spans"]} == {"power", "cornering", "step"}
    # Power and speed were chosen for twice the threshold across the wider axis: D = w sqrt(2 ln r).
    clearing = plan["coats"][0]["clearing"]
    assert clearing["mark_mm"][0] == pytest.approx(1.1774 * RADIUS_MM["x"], rel=0.06)
    assert (tmp_path / "plan/clear-1.nc").read_text()
    # Twenty tags in one tray are one batch.
    assert [batch["pieces"] for batch in plan["etch"]["batches"]] == [20]
    # Runs are made again only where that is asked for.
    assert run(capsys, monkeypatch, "coupon", "timing", job, "--out", runs)[0] == 2
    again = ("coupon", "timing", job, "--out", runs, "--force", "--axis", "y", "--json")
    _, said, _ = run(capsys, monkeypatch, *again)
    assert json.loads(said)["axis"] == "y"
