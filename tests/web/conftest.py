"""A folder of jobs, a shop book that is not there yet, and requests to the page over both."""

import pytest

from stopout.web import app as web
from web.jobs_of import NoBench, client_of, folder_in


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.setattr(web, "Bench", NoBench)
    # Who asks how far a plan is that nobody began is answered at once.
    monkeypatch.setattr("stopout.web.plans._PATIENCE_S", 0.05)
    return folder_in(tmp_path)


@pytest.fixture
def book(tmp_path):
    return tmp_path / "book.sqlite"


@pytest.fixture
def client(place, book):
    with client_of(place, book=book) as asked:
        yield asked
