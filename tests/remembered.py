"""Planner, reader of scans, renderer and typesetter give the same for the same: it is kept.

Most tests of the command plan one small tag again and again, and both workers of a run the same
demo jobs. A plan is a pure function of its job, drawing and tables, and so are the files of a plan
and a date, and what is read from a scan: what was made from the same bytes is taken from memory, or
from the folder that the workers of one run share. Nothing outlives a run.

Tests that two runs give the same, or that change the planner's inside, ask `afresh`.

Previews are drawn small, which few tests look at: to draw one takes a quarter of the time of a
small plan. Those that do look at them ask for `whole_pictures`.
"""

from __future__ import annotations

import os
import pickle
from contextlib import contextmanager
from datetime import date as day
from functools import wraps
from hashlib import sha256
from pathlib import Path

import resvg_py
import typst

from stopout.library import plan_files, plans, scans
from stopout.planning.road import whole
from stopout.scans.inspecting import piece

__all__ = ["afresh", "keep_apart", "remember_all", "share_in", "whole_pictures"]

# Of these many, at 0.3 MB or less each.
_MOST = 100
_forgetful = False
_apart = False
# How wide previews are drawn that nobody looks at; None: as wide as they are asked for.
_SMALL_PX = 400
_width_px: int | None = _SMALL_PX
# The folder of this run, once there is one; and the plans that were made last with their keys.
_place: Path | None = None
_keys: dict = {}


def remember_all():
    """Let all of them answer from memory what they were asked before."""
    resvg_py.svg_to_bytes = _remembering(_drawing_small(resvg_py.svg_to_bytes))
    typst.compile = _remembering(typst.compile)
    whole.plan_job = _remembering_plans(whole.plan_job)
    plan_files.plan_files = _remembering_files(plan_files.plan_files)
    scans.reading_of = _remembering_scans(scans.reading_of)
    scans.inspection_of = _remembering_scans(scans.inspection_of)
    piece.find_lie = _remembering_lies(piece.find_lie)


def share_in(place):
    """Keep plans in a folder too, for the other worker of this run."""
    global _place
    if not _apart:
        _place = place
        place.mkdir(exist_ok=True)


def keep_apart():
    """From now on no process takes a plan from another: the benches change the code in each."""
    global _apart
    _apart = True


@contextmanager
def afresh():
    """Within this, plans and their files are made whatever is remembered of them."""
    global _forgetful
    before, _forgetful = _forgetful, True
    try:
        yield
    finally:
        _forgetful = before


@contextmanager
def whole_pictures():
    """Within this, previews are as large as a person gets them."""
    global _width_px
    before, _width_px = _width_px, None
    try:
        yield
    finally:
        _width_px = before


def _drawing_small(draw):
    """Return a renderer that draws previews small: on white, and as wide as it is told."""

    @wraps(draw)
    def drawn(**options):
        if _width_px and options.get("background") == "#ffffff" and options.get("width"):
            options["width"] = _width_px
        return draw(**options)

    return drawn


def _remembering(make):
    """Return a function that remembers what another made of the same words."""
    kept = {}

    def made(*args, **options):
        words = sorted(options.items(), key=lambda option: option[0])
        return remembered(kept, repr((args, words, _width_px)), lambda: make(*args, **options))

    return made


def _remembering_plans(make):
    """Return a planner that remembers; each plan carries what it was made from as its key."""
    kept = {}

    @wraps(make)
    def made(job, drawing, knowledge, **how):
        if _forgetful or how.get("coats") is not None or _is_watched(how):
            return make(job, drawing, knowledge, **how)
        tell = how.pop("tell", _nobody)
        words = [(name, how[name]) for name in ("outline", "draft") if name in how]
        key = sha256(pickle.dumps((job, drawing, knowledge, words))).hexdigest()
        plan = _told(kept, key, tell, lambda tell: make(job, drawing, knowledge, tell=tell, **how))
        _keys[id(plan)] = plan, key
        if len(_keys) > _MOST:
            del _keys[next(iter(_keys))]
        return plan

    return made


def _is_watched(how):
    """Whether somebody looks at what is made on the way, or at what is remembered of it."""
    memory = how.get("memory")
    return how.get("glimpse") is not None or memory not in (None, plans._MEMORY)


def _remembering_files(make):
    """Return a maker of a plan's files that remembers those of plans that are remembered."""
    kept = {}

    @wraps(make)
    def made(plan, *, date=None, tell=_nobody):
        known, key = _keys.get(id(plan), (None, ""))
        if _forgetful or known is not plan:
            return make(plan, date=date, tell=tell)
        key = f"{key}-{date or day.today()}-{_width_px}"
        return dict(_told(kept, key, tell, lambda tell: make(plan, date=date, tell=tell)))

    return made


def _remembering_scans(read):
    """Return a reader that remembers what it read from the same bytes and the same layout."""
    kept = {}

    @wraps(read)
    def made(data, known, *, tell=_nobody, **how):
        if _forgetful:
            return read(data, known, tell=tell, **how)
        asked = pickle.dumps((read.__name__, data, known, sorted(how.items())))
        key = sha256(asked).hexdigest()
        return _told(kept, key, tell, lambda tell: read(data, known, tell=tell, **how))

    return made


def _remembering_lies(find):
    """Return a search that remembers where it found these openings in this picture."""
    kept = {}

    @wraps(find)
    def made(grey, opening, *, px_per_mm):
        if _forgetful:
            return find(grey, opening, px_per_mm=px_per_mm)
        key = sha256(grey.tobytes() + opening.wkb).hexdigest(), grey.shape, px_per_mm
        return remembered(kept, key, lambda: find(grey, opening, px_per_mm=px_per_mm))

    return made


def _nobody(stage):
    """Is told nothing."""


def _told(kept, key, tell, make):
    """What is remembered or made; the stages are told in either case."""

    def found():
        stages = []
        return make(stages.append), stages

    made, stages = remembered(kept, key, lambda: _shared(key, found))
    for stage in stages:
        tell(stage)
    return made


def _shared(key, make):
    """What another worker wrote, else what is made; written whole."""
    if _place is None:
        return make()
    path = _place / key
    if path.is_file():
        return pickle.loads(path.read_bytes())
    made = make()
    own = _place / f"{key}.{os.getpid()}"
    own.write_bytes(pickle.dumps(made))
    own.replace(path)
    return made


def remembered(kept, key, make):
    """What was made for a key; the oldest of very many are forgotten."""
    if key not in kept:
        kept[key] = make()
        if len(kept) > _MOST:
            del kept[next(iter(kept))]
    return kept[key]
