"""A folder of jobs for the tests of the page, with plans that are at hand, and an app over it."""

from __future__ import annotations

import shutil
from pathlib import Path

from starlette.testclient import TestClient

from sheet.sheet_jobs import files
from stopout.web import app as web
from stopout.web.drafts import Bench

DEMO = Path(__file__).parents[2] / "demo"
HOST = "127.0.0.1:8417"
ORIGIN = {"origin": f"http://{HOST}"}


class NoBench(Bench):
    """Plans nothing, so that no process is started."""

    def warm(self, count=2):
        """Start nothing."""

    async def ask(self, what, asked, early=None):
        """Answer what was asked."""
        return {"asked": asked["path"]}


def folder_in(tmp_path):
    """Two jobs, a link that leads out, and a secret that it leads to."""
    place = tmp_path / "jobs"
    place.mkdir()
    shutil.copytree(DEMO / "gauge-number", place / "gauge", ignore=shutil.ignore_patterns("*-plan"))
    shutil.copy(place / "gauge" / "gauge-number.toml", place / "alone.toml")
    (tmp_path / "secret.toml").write_text("[job]\nname = 'treasure'\n")
    (place / "led-out.toml").symlink_to(tmp_path / "secret.toml")
    return place


def with_sheet(place, name="tag"):
    """Put a sheet beside the first job, as its plan would."""
    plan = place / "gauge" / "gauge-number-plan"
    plan.mkdir()
    for file in ("sheet.json", "sheet.html", "sheet.pdf"):
        (plan / file).write_bytes(files(name)[file])
    return plan


def client_of(place, **options):
    """A browser's requests to the app; `with` it."""
    made = web.make_app(place, hosts={HOST}, **options)
    return TestClient(made, base_url=f"http://{HOST}", headers=ORIGIN)
