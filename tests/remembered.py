"""Planner, reader of scans, renderer and typesetter give the same for the same: it is kept.

Most tests of the command plan one small tag again and again, and both workers of a run the same
demo jobs. A plan is a pure function of its job, drawing and tables, and so are the files of a plan
and a date, and what is read from a scan: what was made from the same bytes is taken from memory, or
from the folder that the workers of one run share. Nothing outlives a run.

Tests that two runs give the same, or that change the planner's inside, ask `afresh`.

Few tests look at the tool's pictures and at the printed sheets of its plans, and to make them takes
half the time of a small plan. In their place stands a word with a seal of the content that nothing
can read as a picture or a PDF: tests that look ask for `whole_pictures` or `whole_sheets`, and fail
without. The phone's page and the sheet as data are made in either case.
"""

from __future__ import annotations

import io
import os
import pickle
import time
from contextlib import contextmanager
from datetime import date as day
from functools import partial, wraps
from hashlib import sha256
from pathlib import Path

import numpy as np
import resvg_py
import typst

from stopout.library import plan_files, plans, scans
from stopout.planning.coupon import road as coupons
from stopout.planning.road import whole
from stopout.scans.inspecting import piece
from stopout.scans.measuring import tone
from stopout.scans.reading import whole as reading
from stopout.sheet import store

__all__ = [
    "afresh",
    "keep_apart",
    "remember_all",
    "share_in",
    "whole_pictures",
    "whole_sheets",
]

# Of these many, at 0.3 MB or less each.
_MOST = 200
_forgetful = False
_apart = False
# Whether the tool's pictures are drawn, and the sheets of its plans typeset.
_draws = False
_prints = False
# What takes less is made again by the other worker sooner than it is written down for it [CPU s].
_QUICK_S = 0.2
# The folder of this run, once there is one; and the plans that were made last with their keys.
_place: Path | None = None
_keys: dict = {}


def remember_all():
    """Let all of them answer from memory what they were asked before."""
    resvg_py.svg_to_bytes = _remembering(_drawing_if_asked(resvg_py.svg_to_bytes))
    typst.compile = _remembering(typst.compile)
    store.sheet_pdf = _printing_if_asked(store.sheet_pdf)
    whole.plan_job = _remembering_plans(whole.plan_job)
    coupons.plan_coupon = _remembering_coupons(coupons.plan_coupon)
    plan_files.plan_files = _remembering_files(plan_files.plan_files)
    scans.reading_of = _remembering_scans(scans.reading_of)
    scans.inspection_of = _remembering_scans(scans.inspection_of)
    piece.find_lie = _remembering_lies(piece.find_lie)
    reading.register = _remembering_levels(reading.register)
    tone.seen_again = _remembering_levels(tone.seen_again)
    tone.measure = _remembering_levels(tone.measure)


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
    """Within this, the tool's pictures are drawn."""
    global _draws
    before, _draws = _draws, True
    try:
        yield
    finally:
        _draws = before


@contextmanager
def whole_sheets():
    """Within this, the sheets of plans are typeset."""
    global _prints
    before, _prints = _prints, True
    try:
        yield
    finally:
        _prints = before


def _drawing_if_asked(draw):
    """Return a renderer that names the tool's pictures, where nobody looks at them, by content."""

    @wraps(draw)
    def drawn(**options):
        # Artwork is rendered in other colours or at another resolution.
        is_ours = options.get("background") == "#ffffff" and options.get("dpi") == 96
        if _draws or not is_ours:
            return draw(**options)
        return b"\x89PNG\r\n\x1a\n" + _unlooked("whole_pictures", sorted(options.items()))

    return drawn


def _printing_if_asked(print_sheet):
    """Return a printer that names the sheets of plans, where nobody looks at them, by content."""

    @wraps(print_sheet)
    def printed(sheet, **how):
        if _prints:
            return print_sheet(sheet, **how)
        return b"%PDF-1.7\n%" + _unlooked("whole_sheets", (sheet, sorted(how.items())))

    return printed


def _unlooked(asked, content):
    seal = sha256(repr(content).encode()).hexdigest()
    return f" No test looks at this; ask for {asked}. {seal}\n".encode()


def _remembering(make):
    """Return a function that remembers what another made of the same words."""
    kept = {}

    def made(*args, **options):
        if _forgetful:
            return make(*args, **options)
        # Typefaces are at another address in each process, and always those that are shipped.
        told = options | ({"font_paths": None} if "font_paths" in options else {})
        words = sorted(told.items(), key=lambda option: option[0])
        key = sha256(repr((make.__name__, args, words, _draws)).encode()).hexdigest()
        return remembered(kept, key, lambda: _shared(key, lambda: make(*args, **options)))

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
        key = _key(job, drawing, knowledge, words)
        plan = _told(kept, key, tell, lambda tell: make(job, drawing, knowledge, tell=tell, **how))
        _keys[id(plan)] = plan, key
        if len(_keys) > _MOST:
            del _keys[next(iter(_keys))]
        return plan

    return made


def _remembering_coupons(make):
    """Return a planner of coupons that remembers."""
    kept = {}

    @wraps(make)
    def made(kind, job, knowledge, *, outline=None):
        if _forgetful:
            return make(kind, job, knowledge, outline=outline)
        key = _key(make.__name__, kind, job, knowledge, outline)
        again = partial(make, kind, job, knowledge, outline=outline)
        return remembered(kept, key, lambda: _shared(key, again))

    return made


def _key(*words):
    """The digest of what something is made from, by its values alone.

    An object that is told twice is written out twice: what is read again is equal, but not the
    same, and shares other parts with what was read before.
    """
    written = io.BytesIO()
    pickler = pickle.Pickler(written)
    pickler.fast = True
    pickler.dump(words)
    return sha256(written.getvalue()).hexdigest()


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
        key = f"{key}-{date or day.today()}-{_draws}-{_prints}"
        return dict(_told(kept, key, tell, lambda tell: make(plan, date=date, tell=tell)))

    return made


def _remembering_scans(read):
    """Return a reader that remembers what it read from the same bytes and the same layout."""
    kept = {}

    @wraps(read)
    def made(data, known, *, tell=_nobody, **how):
        if _forgetful:
            return read(data, known, tell=tell, **how)
        key = _key(read.__name__, data, known, sorted(how.items()))
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


def _remembering_levels(read):
    """Return a step of a reading that remembers what it made of the same grey levels."""
    kept = {}

    @wraps(read)
    def made(grey, *known):
        if _forgetful:
            return read(grey, *known)
        key = _key(sha256(np.ascontiguousarray(grey)).digest(), grey.shape, known)
        return remembered(kept, key, lambda: read(grey, *known))

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
    began_s = time.process_time()
    made = make()
    if time.process_time() - began_s < _QUICK_S:
        return made
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
