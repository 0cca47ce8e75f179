"""The compiled normaliser is kept in the cache, which may be missing, damaged or shut."""

from __future__ import annotations

import threading
from functools import partial
from multiprocessing import get_all_start_methods
from pathlib import Path

import pytest
import wasmtime

from stopout.artwork.svg import normalise as room
from stopout.artwork.svg.normalise import normalise
from stopout.library.cores import on_all_cores

DISC = b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><circle r="4"/></svg>'


@pytest.fixture(autouse=True)
def _in_a_new_process(monkeypatch):
    forget(monkeypatch)


def forget(monkeypatch):
    """Forget the module that this thread has loaded, as a new process has none."""
    monkeypatch.setattr(room, "_held", threading.local())


@pytest.fixture
def cache(tmp_path: Path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_cache_dir", lambda name: str(tmp_path / "cache" / name))
    return tmp_path / "cache" / "stopout"


@pytest.fixture(scope="module")
def compiled(tmp_path_factory):
    """A cache's file as the first run leaves it: its name and bytes; and what that run made."""
    place = tmp_path_factory.mktemp("compiled")
    with pytest.MonkeyPatch.context() as patch:
        forget(patch)
        patch.setattr("platformdirs.user_cache_dir", lambda name: str(place / name))
        svg = normalise(DISC, name="tag.svg").svg
    (kept,) = (place / "stopout").iterdir()
    return kept.name, kept.read_bytes(), svg


@pytest.fixture
def compilings(compiled, monkeypatch):
    """How often it was compiled since; a second each, so that the first run's result is taken."""
    made, whole, real = [], compiled[1][32:], wasmtime.Module

    class Compiler:
        deserialize = real.deserialize

        def __new__(cls, engine, wasm):
            made.append(len(wasm))
            return real.deserialize(engine, whole)

    monkeypatch.setattr(wasmtime, "Module", Compiler)
    return made


@pytest.fixture
def kept(cache, compiled):
    """The cache's file, laid there."""
    cache.mkdir(parents=True)
    (cache / compiled[0]).write_bytes(compiled[1])
    return cache / compiled[0]


def test_the_second_run_loads_what_the_first_compiled(kept, compiled, compilings):
    assert normalise(DISC, name="tag.svg").svg == compiled[2]
    assert compilings == []
    assert kept.suffix == ".compiled"


@pytest.mark.parametrize("damage", ["cut", "flipped", "empty"])
def test_a_damaged_cache_is_replaced(kept, compiled, compilings, damage):
    _, whole, wanted = compiled
    flipped = whole[:5000] + bytes([whole[5000] ^ 255]) + whole[5001:]
    kept.write_bytes({"cut": whole[:-100], "flipped": flipped, "empty": b""}[damage])
    assert normalise(DISC, name="tag.svg").svg == wanted
    assert kept.stat().st_size == len(whole)
    assert len(compilings) == 1


def test_a_process_loads_the_module_once_a_thread(kept, monkeypatch):
    wanted = normalise(DISC, name="tag.svg").svg
    monkeypatch.setattr(room, "_loaded", lambda: pytest.fail("it loaded again"))
    assert normalise(DISC, name="tag.svg").svg == wanted


def test_a_cache_that_cannot_be_written_does_no_harm(tmp_path, monkeypatch, compilings):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setattr("platformdirs.user_cache_dir", lambda name: str(tmp_path / "file" / name))
    assert b"<path" in normalise(DISC, name="tag.svg").svg
    assert len(compilings) == 1


def test_runs_at_the_same_time_do_not_disturb_each_other(cache, compilings):
    found: list[bytes] = []
    runs = [
        threading.Thread(target=lambda: found.append(normalise(DISC, name="tag.svg").svg))
        for _ in range(3)
    ]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
    assert len(found) == 3
    assert len(set(found)) == 1
    assert len(list(cache.iterdir())) == 1


@pytest.mark.skipif("fork" not in get_all_start_methods(), reason="no process can be copied here")
def test_a_copy_of_a_process_that_read_a_drawing_leaves_drawings_to_it(kept):
    """The sandbox's threads are not in the copy, which would wait for them for ever."""
    normalise(DISC, name="tag.svg")
    read = partial(normalise, DISC, name="tag.svg")
    assert on_all_cores([lambda _: 1, lambda _: read().svg], lambda _: None, 2)[1] == read().svg
