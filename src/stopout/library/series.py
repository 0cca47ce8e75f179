"""A series from its rows to its panels: what is common planned once, the rest piece by piece."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from functools import cache, partial
from itertools import chain
from typing import TYPE_CHECKING

from stopout.copies import Copy, cores
from stopout.errors import JobError, Mistake
from stopout.job.fields import names_in
from stopout.job.series import Piece
from stopout.job.setting import Setting
from stopout.library.again import Home, Lay, plan_what_comes_again
from stopout.library.cores import Work, on_all_cores, say_nothing
from stopout.library.pieces import Order, Workshop, keep_all, some_at_a_time
from stopout.values import Counted

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from stopout.job.record import Job
    from stopout.library.job_file import JobFile
    from stopout.planning import Plan
    from stopout.planning.knowledge import Knowledge
    from stopout.planning.opening.look import Narrow
    from stopout.planning.panel.layout import Layout
    from stopout.planning.panel.whole import PlannedPart, PlannedPiece, Together
    from stopout.planning.plan import PlacedPiece
    from stopout.values import Drawing

Tell = Callable[[str], None]
_MOST_TOLD = 20
# So often it is told how far the check of rows is.
_TOLD_ROWS = 250


def plan_series(
    read: JobFile,
    knowledge: Knowledge,
    *,
    outline: BaseGeometry | None,
    draft: bool,
    tell: Tell,
    workers: int | None = None,
) -> Plan:
    """Plan every piece of a job, and the panels that they lie on.

    Parameters
    ----------
    read : JobFile
        With a series or a panel; what a book gives stands in the job.
    knowledge : Knowledge
        Table entries for the job.
    outline : BaseGeometry, optional
        The blank's outline as seen.
    draft : bool
        Whether to leave the programs out.
    tell : callable
        Is told in a few words how far it is.
    workers : int, optional
        How many processes plan pieces; the machine's cores where it is left out.

    Returns
    -------
    Plan
        Of the first panel, with the further ones in `panels` and every piece in `pieces`.

    Raises
    ------
    JobError
        With the mistakes of rows, each with its line.
    PlanError
        If the pieces find no room.
    """
    from stopout.planning.panel import whole
    from stopout.planning.panel.naming import name_pieces, told_together
    from stopout.planning.plan import NO_MOVES

    job = read.job
    whole.check_panel(job)
    pieces = _pieces(read, tell)
    _check_rows(read, pieces, tell)
    layout = whole.layout_of(job, len(pieces))
    shop = Workshop(read=read, knowledge=knowledge, outline=outline, draft=draft)
    shared, homes, left = _planned_apart(shop, pieces, layout, tell, workers)
    marks = whole.plan_marks(job, layout, knowledge, draft=draft)
    placed = _placed(job, pieces, layout)
    is_loose = job.panel is not None and job.panel.is_loose
    one: Plan | None = None
    if is_loose or job.route.is_sign:
        first = _pieces_on(shop, pieces, homes, shared, range(1))[0]
        alone = draft or not is_loose
        one = whole.plan_loose(
            job, first, len(pieces), knowledge, outline=outline, draft=alone, tell=tell
        )

    def panel(n: int, tell: Tell) -> Plan:
        # Its pieces are in memory no longer than until they are joined: a thousand would fill it.
        joined = whole.join_panel(
            job,
            _pieces_on(shop, pieces, homes, shared, layout.on(n)),
            layout,
            n + 1,
            marks=marks,
            first=one if n == 0 and not is_loose else None,
            tell=tell,
        )
        plan = joined.plan(knowledge, draft=draft, tell=tell)
        if n > 0:
            plan = replace(plan, coats=tuple(replace(c, moves=NO_MOVES) for c in plan.coats))
        return name_pieces(plan, [one for one in placed if one.panel == n + 1])

    firsts = {homes[layout.on(n).start] for n in range(layout.n_panels)}
    works = [partial(panel, n) for n in range(layout.n_panels)]
    plans = _all_panels(shop, works, left, len(firsts), tell, workers)
    alone_too = [one] if is_loose and one is not None else []
    first_panel, *others = told_together([*alone_too, *plans])
    shop.forget()
    return replace(first_panel, are_loose=bool(alone_too), pieces=placed, panels=tuple(others))


def _all_panels(
    shop: Workshop,
    works: Sequence[Work[Plan]],
    left: Sequence[Sequence[Order]],
    before: int,
    tell: Tell,
    workers: int | None,
) -> list[Plan]:
    """Plan the pieces that are left of each panel, after so many before, and join all panels.

    Panels that are over where each core has as many as the others are joined while pieces are still
    planned: one core would wait for the other.
    """
    count = min(workers or cores(), len(works))
    over = len(works) % count
    first = dict.fromkeys(chain(*left[:over]))
    rest = [order for order in dict.fromkeys(chain(*left[over:])) if order not in first]
    n_first, n_rest = (sum(order.n_pieces for order in some) for some in (first, rest))
    keep_all(shop, first, tell, workers, before=before, after=n_rest)
    ahead = Copy([partial(work, say_nothing) for work in works[:over]]) if over else None
    try:
        keep_all(shop, rest, tell, workers, before=before + n_first)
        plans = on_all_cores(works[over:], tell, workers)
        made = None if ahead is None else ahead.made()
    finally:
        if ahead is not None:
            ahead.end()
    return [*(made or [work(tell) for work in works[:over]]), *plans]


def _pieces(read: JobFile, tell: Tell) -> Sequence[Piece]:
    """A piece for each row; without rows, numbered ones."""
    from stopout.library.rows import pieces_of

    job = read.job
    if job.series is not None:
        tell("reading the rows")
        return pieces_of(job, read.folder)
    count = job.quantity + job.spares
    return [Piece(number=str(k + 1).zfill(len(str(count)))) for k in range(count)]


def _placed(job: Job, pieces: Sequence[Piece], layout: Layout) -> tuple[PlacedPiece, ...]:
    from stopout.planning.plan import PlacedPiece

    return tuple(
        PlacedPiece(
            number=pieces[k].number,
            fields=pieces[k].fields,
            panel=n + 1,
            at_mm=layout.places_mm[k - layout.on(n).start],
            size_mm=(job.blank.width_mm, job.blank.height_mm),
        )
        for n in range(layout.n_panels)
        for k in layout.on(n)
    )


def _planned_apart(
    shop: Workshop,
    pieces: Sequence[Piece],
    layout: Layout,
    tell: Tell,
    workers: int | None,
) -> tuple[Together | None, list[tuple[Home, ...]], list[list[Order]]]:
    """Plan what all pieces have in common, each panel's first, and what comes again of the others.

    Beside the first piece of its panel the others need measuring only where they are narrower.
    Returns where each piece's own is, and what is left to be planned for each panel.
    """
    from stopout.library.drawings import laid_of

    setting, own = shop.job.setting, _own(shop.job.setting)
    laid = cache(partial(laid_of, shop.read))
    shared = _shared_part(shop, pieces, laid, tell) if own else None
    shop.with_artwork = shared is None
    settings = [(own if shared else setting).filled(dict(piece.fields)) for piece in pieces]
    panels = [layout.on(n) for n in range(layout.n_panels)]
    firsts = {settings[on.start]: Order(settings=(settings[on.start],)) for on in panels}
    keep_all(shop, firsts.values(), tell, workers)
    narrow = [_narrow(shop.made(firsts[settings[on.start]]), shared) for on in panels]
    homes: dict[Setting, tuple[Home, ...]] = {
        one: (Home(order=order),) for one, order in firsts.items()
    }
    groups = _alike(settings, panels, firsts)
    on_panels = {
        one: frozenset(n for n, _ in where) for where, group in groups.items() for one in group
    }
    again = plan_what_comes_again(shop, on_panels, narrow, shared, laid, tell, workers)
    for where, group in groups.items():
        beside = narrow[where[0][0]]
        boxes = {one: again[one].rest if one in again else None for one in group}
        left = [one for one in group if boxes[one] is None or boxes[one]]
        for some in some_at_a_time(left, shop.job):
            own_boxes = tuple(boxes[one] for one in some)
            order = Order(settings=some, beside=beside, boxes=own_boxes)
            homes.update((one, (Home(order=order, number=k),)) for k, one in enumerate(some))
        coded = [one for one in group if one in again and again[one].codes]
        for some in some_at_a_time(coded, shop.job):
            order = Order(
                settings=tuple(Setting(codes=one.codes) for one in some),
                beside=beside,
                boxes=tuple(again[one].codes for one in some),
                without=tuple(again[one].without for one in some),
                # The others were counted with what else is theirs.
                n_uncounted=sum(one in left for one in some),
            )
            for k, one in enumerate(some):
                code = Home(order=order, number=k, is_code=True)
                homes[one] = (*homes.get(one, ()), code)
        homes.update(
            (one, (*again[one].homes, *homes.get(one, ()))) for one in group if one in again
        )
    planned = set(firsts.values())
    parts = [[h for k in on for h in homes[settings[k]] if not h.comes_again] for on in panels]
    orders = [list(dict.fromkeys(h.order for h in own if h.order not in planned)) for own in parts]
    return shared, [homes[one] for one in settings], orders


def _narrow(*made: Together | None) -> Narrow | None:
    """How narrow what lies on a panel is for sure; None where nothing of it is planned alone."""
    from stopout.planning.opening.look import Narrow

    known = [Narrow.of(one.coat) for one in made if one is not None and one.coat is not None]
    return Narrow.each(min, known) if known else None


def _alike(
    settings: Sequence[Setting], panels: Sequence[range], but_for: Collection[Setting]
) -> dict[tuple[tuple[int, int], ...], list[Setting]]:
    """Return the settings that lie equally often on the same panels: (panel, how often) of each."""
    places: dict[Setting, Counter[int]] = {}
    for panel, on in enumerate(panels):
        for k in on:
            if settings[k] not in but_for:
                places.setdefault(settings[k], Counter())[panel] += 1
    found: dict[tuple[tuple[int, int], ...], list[Setting]] = {}
    for one, where in places.items():
        found.setdefault(tuple(where.items()), []).append(one)
    return found


def _pieces_on(
    shop: Workshop,
    pieces: Sequence[Piece],
    homes: Sequence[tuple[Home, ...]],
    shared: Together | None,
    on: range,
) -> list[PlannedPiece]:
    """Return the planned pieces of a panel."""
    from stopout.planning.panel.whole import PlannedPart, PlannedPiece

    # An order is the same object for all pieces that are planned by it.
    orders = {id(home.order): home for k in on for home in homes[k]}
    made = {key: _made(shop, home) for key, home in orders.items()}
    common = () if shared is None else (PlannedPart(made=shared, number=0),)
    found = []
    for k in on:
        is_whole = any(made[id(home.order)][0].is_whole for home in homes[k] if home.is_code)
        here = [home for home in homes[k] if not (home.is_group and is_whole)]
        parts = tuple(_part(made[id(home.order)], home) for home in here)
        drawing = _drawing(shop, pieces[k], parts)
        found.append(
            PlannedPiece(
                piece=pieces[k],
                drawing=drawing if shared is None else _together(shared.drawings[0], drawing),
                parts=(*common, *parts),
            )
        )
    return found


def _made(shop: Workshop, home: Home) -> Sequence[Together]:
    """Return what an order made; what comes again is taken apart, for it lies unequally often."""
    from stopout.planning.panel.parting import parted

    made = shop.made(home.order)
    return parted(made, shop.job) if home.comes_again else [made] * len(made.drawings)


def _part(made: Sequence[Together], home: Home) -> PlannedPart:
    from stopout.planning.panel.whole import PlannedPart

    return PlannedPart(
        made=made[home.number],
        number=0 if home.comes_again else home.number,
        shift_mm=home.shift_mm,
        comes_again=home.comes_again or home.is_code,
    )


def _drawing(shop: Workshop, piece: Piece, parts: Sequence[PlannedPart]) -> Drawing:
    """Return the drawing of a piece's own: that planned with it, or drawn where all comes again."""
    for part in parts:
        if not part.comes_again:
            return part.made.drawings[part.number]
    return shop.drawing(_own(shop.job.setting).filled(dict(piece.fields)))


def _check_rows(read: JobFile, pieces: Sequence[Piece], tell: Tell) -> None:
    """Set the words and write the codes of every row, before anything is planned."""
    from stopout.artwork.setting.codes import code_modules
    from stopout.artwork.setting.fault import SettingError
    from stopout.artwork.setting.text import lay_out
    from stopout.library.drawings import fonts_of

    setting = read.job.setting
    own, fonts, mistakes = _own(setting), fonts_of(read), list[Mistake]()
    # Elements are counted as the job file has them, those without fields too.
    counted = {
        "text": [k for k, text in enumerate(setting.texts) if names_in(text.words)],
        "code": [k for k, code in enumerate(setting.codes) if names_in(code.content)],
    }
    for place, piece in enumerate(pieces, start=1):
        if place % _TOLD_ROWS == 0:
            tell(Counted(f"checking row {place} of {len(pieces)}", place / len(pieces)))
        filled = own.filled(dict(piece.fields))
        for table, number, element in filled.placed():
            try:
                if table == "text":
                    lay_out(element, fonts, (0.0, 0.0))  # type: ignore[arg-type]
                else:
                    code_modules(element.content, element.kind)  # type: ignore[union-attr]
            except SettingError as fault:
                at = f"{table}[{counted[table][number] + 1}].{fault.key}"
                row = f"row {place} ({piece.number}), {at}"
                mistakes.append(Mistake(field=row, message=fault.words))
        if len(mistakes) >= _MOST_TOLD:
            break
    if mistakes:
        raise JobError(str(read.path), tuple(mistakes))


def _own(setting: Setting) -> Setting:
    """What of a setting differs from piece to piece."""
    return Setting(
        texts=tuple(text for text in setting.texts if names_in(text.words)),
        codes=tuple(code for code in setting.codes if names_in(code.content)),
    )


def _common(setting: Setting) -> Setting:
    return replace(
        setting,
        texts=tuple(text for text in setting.texts if not names_in(text.words)),
        codes=tuple(code for code in setting.codes if not names_in(code.content)),
    )


def _together(common: Drawing, own: Drawing) -> Drawing:
    from stopout.planning.panel.joining import joined_drawing

    size = (common.width_mm, common.height_mm)
    joined = joined_drawing([(common, (0.0, 0.0)), (own, (0.0, 0.0))], size)
    return replace(joined, file=common.file, sha256=common.sha256)


def _shared_part(shop: Workshop, pieces: Sequence[Piece], laid: Lay, tell: Tell) -> Together | None:
    """Plan what all pieces have in common, where nothing of their own comes near it."""
    import shapely

    from stopout.planning.panel.joining import reach_apart_mm

    job, common = shop.job, _common(shop.job.setting)
    if job.route.is_sign or job.artwork.dark == "raised" or not (job.artwork.file or common):
        return None
    tell("planning what the pieces have in common")
    made = shop.made(Order(settings=(common,)))
    (drawing,) = made.drawings
    assert made.coat is not None
    apart = reach_apart_mm(made.coat, job.limits.narrowest_land_mm)
    near = shapely.union_all([drawing.dark, drawing.beyond_page]).buffer(apart)
    shapely.prepare(near)
    own = _own(job.setting)
    for place, piece in enumerate(pieces, start=1):
        if place % _TOLD_ROWS == 0:
            tell(Counted(f"laying row {place} of {len(pieces)}", place / len(pieces)))
        for item in laid(own.filled(dict(piece.fields))):
            if shapely.intersects(near, item.covers):
                return None
    return made
