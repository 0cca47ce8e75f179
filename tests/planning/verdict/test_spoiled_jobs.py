"""Each spoiled job gives its verdict and first finding wherever a person looks."""

from __future__ import annotations

import re

import pytest

from jobmaker import plate
from planning.verdict.spoiled import JOBS, planned, svg, words
from stopout.cli.speech.result_lines import result_lines
from stopout.cli.speech.verdict_lines import MOST_LINES, finding_lines, last_lines
from stopout.job.record import Coat, Hole, Shows
from stopout.library.plan_files import sheet_files
from stopout.pictures.piece.of_plan import preview_scene
from stopout.pictures.piece.preview import preview_svg
from stopout.plan_file import summarise
from stopout.planning.verdict import Told
from stopout.values import Level


@pytest.fixture(scope="module", params=list(JOBS), ids=lambda job: job.__name__)
def job(request):
    return request.param(), JOBS[request.param]


def text_of(svg_text: str) -> str:
    return " ".join(part.partition("<")[0] for part in svg_text.split(">"))


def test_the_verdict_leads_with_what_spoils_the_piece(job):
    made, (state, code, said) = job
    assert made.verdict.state == state
    assert made.verdict.lines[0].code == code
    assert said in made.verdict.lines[0].text
    assert made.is_stopped == (state == "stopped")


def test_plan_json_gives_it(job):
    made, (state, code, said) = job
    verdict = summarise(made)["verdict"]
    assert set(verdict) == {"state", "unmeasured", "lines"}
    assert verdict["state"] == state
    assert verdict["unmeasured"] is True
    assert 1 <= len(verdict["lines"]) <= 5
    first = verdict["lines"][0]
    assert set(first) == {"code", "level", "message", "places"}
    assert first["code"] == code
    assert said in first["message"]


def test_the_terminal_keeps_to_fifteen_lines_and_a_stop_stands_last(job):
    made, (state, _, said) = job
    results, last = result_lines(made, "tag-plan", in_full=False), last_lines(made)
    lines = [made.full_headline]
    lines += finding_lines(made, room=MOST_LINES - 1 - len(results) - len(last), show_all=False)
    lines += [*results, *last]
    assert len(lines) <= MOST_LINES
    assert all(len(line) <= 130 for line in lines)
    assert lines[0].startswith("STOPPED" if state == "stopped" else "READY, with")
    assert said.split()[0] in " ".join(lines[1:3])
    if state == "stopped":
        assert lines[-len(last)].startswith("STOP: ")


def test_the_preview_shows_it_above_the_pictures(job):
    made, (_, _, said) = job
    text = " ".join(text_of(preview_svg(preview_scene(made))).split())
    assert made.verdict.headline in text
    assert said.split()[0].strip('"') in text
    assert text.index(made.verdict.headline) < text.index("As seen")


def test_the_sheet_begins_with_it(job):
    made, (state, _, _) = job
    page = sheet_files(made, date="2025-03-14")["sheet.html"].decode()
    body = page[page.index("<main") :]
    assert made.verdict.lines[0].message.split()[-1] in body
    if state == "stopped":
        assert body.index("STOP") < 400
    else:
        assert body.index("READY, with") < body.index("What it is")


@pytest.mark.parametrize(
    ("thing", "lead"), [("", "coat 1"), ("", "outside the lettering"), ("the rule", "the rule")]
)
def test_a_finding_cut_short_says_more_than_what_it_is_about(thing, lead):
    message = f"{lead}: " + "; ".join(" ".join(40 * [word]) for word in ("one", "two", "three"))
    told = Told(code="c", level=Level.STOP, message=message, remedy="Move it.", thing=thing)
    assert told.brief.endswith("one one. Move it.")


class TestWhatIsMeant:
    """A frame that bleeds, a rosette and a job that says so are told from a slip."""

    def test_a_frame_that_runs_past_all_edges_is_not_cut_by_mistake(self):
        frame = '<path fill-rule="evenodd" d="M-2-2h44v24h-44z M2 2v16h36v-16z"/>'
        made = planned(svg(frame, width=40, height=20))
        assert "cut-off" not in [one.code for one in made.verdict.told]

    def test_a_frame_that_the_edge_cuts_open_is_cut_by_mistake(self):
        frame = '<path fill-rule="evenodd" d="M-3 2h46v16h-46z M-2 3v14h44v-14z"/>'
        page = svg(f'<g transform="translate(3)">{frame}</g>', width=46, height=20)
        made = planned(page, size=(40.0, 20.0))
        assert made.verdict.lines[0].code == "cut-off"
        assert made.is_stopped

    @pytest.mark.parametrize(
        ("body", "width", "height"),
        [
            (words("1 2 3 4 5 6 7 8", 27, 13, 8), 54, 20),
            ('<path fill-rule="evenodd" d="M5 0h40v24h-40z M6 1v22h38v-22z"/>', 50, 24),
            (
                '<path fill-rule="evenodd" d="M2 12L24 0 46 12 24 24z M5 12L24 2 43 12 24 22z"/>',
                48,
                24,
            ),
        ],
    )
    def test_a_drawing_too_large_lies_clear_of_the_edges_once_it_is_as_small_as_is_told(
        self, body, width, height
    ):
        (cut,) = [
            one
            for one in planned(svg(body, width=width, height=height)).verdict.told
            if one.code == "cut-off"
        ]
        share = float(re.search(r"Make the artwork (\d+) % of this size", cut.remedy)[1]) / 100
        artwork = {"width_mm": share * width}
        made = planned(svg(body, width=width, height=height), artwork=artwork)
        assert not {"cut-off", "artwork-at-rim"} & {one.code for one in made.verdict.told}
        assert not [one for one in made.verdict.told if "blank's edge" in one.message]
        # Not needlessly small: it comes within 1.5 mm of an edge.
        a, b, c, d = made.coats[0].target.bounds
        assert min(a, b, 40 - c, 20 - d) < 1.5

    def test_artwork_may_be_cut_where_the_job_says_so(self):
        page = svg(words("HIGH WATER", 20, 13, 8), width=40, height=20)
        made = planned(page, artwork={"may_be_cut": True})
        assert not made.is_stopped
        (cut,) = [one for one in made.verdict.told if one.code == "cut-off"]
        assert cut.level == "note"

    def test_a_disc_about_a_hole_is_a_rosette(self):
        blank = plate(size=(40.0, 20.0), holes=(Hole(at_mm=(10.0, 10.0), diameter_mm=3.0),))
        made = planned(svg('<circle cx="10" cy="10" r="4"/>', width=40, height=20), blank=blank)
        assert made.verdict.state == "ready"


@pytest.mark.parametrize(("width", "size"), [(60, 8), (40, 6)], ids=["page enlarged", "within it"])
def test_words_beyond_their_own_page_are_whole_by_what_the_remedy_says(width, size):
    def cut(wide, high):
        made = planned(svg(words("HIGH WATER", wide / 2, 13, high), width=wide, height=20),
                       size=(60.0, 20.0))  # fmt: skip
        return [one.remedy for one in made.verdict.told if one.code == "cut-off"]

    (remedy,) = cut(40, 8)
    assert remedy.startswith("Enlarge the artwork's page, or draw within it.")
    assert not cut(width, size)


@pytest.mark.parametrize("is_sign", [True, False])
def test_what_is_not_etched_is_told_of_no_depth(is_sign):
    hair = '<path d="M3.2 5.08h2v.02h-2z M14 4h6v3h-6z"/>'
    limits = {"too_thin": "leave-out", "edge_tolerance_mm": 0.01}
    sign = {
        "blank": plate((40.0, 20.0), material="acrylic-cast", worked_side="back"),
        "coats": (Coat(paint="acrylic-lacquer", colour="black", shows=Shows(kind="rest")),
                  Coat(paint="acrylic-lacquer", colour="ivory", shows=Shows(kind="dark"),
                       recolour=True)),
        "etch": None,
    }  # fmt: skip
    made = planned(svg(hair, width=40, height=20), limits=limits, **(sign if is_sign else {}))
    told = [one.remedy for one in made.verdict.told if "of this shop makes it" in one.remedy]
    assert told
    assert all(("no depth or mark" in remedy) is not is_sign for remedy in told)
