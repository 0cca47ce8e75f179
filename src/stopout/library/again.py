"""Shapes that come again in a series, planned once: which, in which company, and where they lie."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from stopout.library.pieces import Order, Workshop, keep_all, some_at_a_time
from stopout.library.recurring import Apart, Coded, Recurring, Split, is_quiet, split_pieces
from stopout.library.touching import are_made_alike, touching
from stopout.planning.opening.look import Narrow
from stopout.values import COORDINATE_DECIMALS, Box

if TYPE_CHECKING:
    from stopout.artwork.setting.whole import LaidElement
    from stopout.job.setting import Setting
    from stopout.planning.panel.whole import Together
    from stopout.planning.plan import CoatPlan

Tell = Callable[[str], None]
# Lays what a piece has of its own.
Lay = Callable[["Setting"], "tuple[LaidElement, ...]"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Home:
    """What a part of a piece is planned in, as which number, and how far from there it lies.

    `is_group` tells that it is left out of a code, `is_code` that it is the rest of codes.
    """

    order: Order
    number: int = 0
    shift_mm: tuple[float, float] = (0.0, 0.0)
    comes_again: bool = False
    is_group: bool = False
    is_code: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """Where the shapes of a piece are that come again, and the boxes of all the rest.

    `codes` are those of codes, `without` those of what of them comes again.
    """

    homes: tuple[Home, ...]
    rest: tuple[Box, ...]
    codes: tuple[Box, ...]
    without: tuple[Box, ...]


def plan_what_comes_again(
    shop: Workshop,
    on_panels: Mapping[Setting, frozenset[int]],
    narrow: list[Narrow | None],
    shared: Together | None,
    laid: Lay,
    tell: Tell,
    workers: int | None,
) -> dict[Setting, Again]:
    """Plan shapes that come again in pieces, once each.

    Parameters
    ----------
    shop : Workshop
        Of the series.
    on_panels : mapping
        Each piece's own, and the panels on which it lies.
    narrow : list of Narrow or None
        How narrow the first piece of each panel is. Land between modules that touch is added.
    shared : Together, optional
        What all pieces have in common.
    laid : callable
        Lays what a piece has of its own.
    tell, workers
        As for `keep_all`.

    Returns
    -------
    dict
        Of those pieces that have such shapes.
    """
    from stopout.planning.panel.whole import may_lie_side_by_side

    known = [one for one in narrow if one is not None]
    if shared is None or shared.coat is None or not may_lie_side_by_side(shop.job) or not known:
        return {}
    splits = split_pieces({one: laid(one) for one in on_panels}, _apart(shop, shared, known))
    planned = _Planned(shop, narrow, tell, workers)
    planned.plan(
        ((shape, on_panels[one]) for one in splits for shape in splits[one].words), as_drawn=False
    )
    planned.plan(
        (shape, on_panels[one])
        for one in splits
        for cluster in splits[one].lettered
        for shape in cluster.letters
    )
    planned.plan_groups((code, on_panels[one]) for one in splits for code in splits[one].coded)
    found = {one: planned.again(split) for one, split in splits.items()}
    return {one: again for one, again in found.items() if again.homes}


def _apart(shop: Workshop, shared: Together, narrow: Sequence[Narrow]) -> Apart:
    """How far things must lie from each other to be planned by themselves."""
    from stopout.planning.measures.placing import face_as_seen
    from stopout.planning.panel.joining import reach_apart_mm
    from stopout.planning.road.coats import making_for

    job = shop.job
    how = making_for(job, shared.drawings[0], shop.knowledge)
    any_mm = max(reach_apart_mm(_coat(shared), job.limits.narrowest_land_mm), how.apart_mm)
    return Apart(
        any_mm=any_mm,
        quiet_mm=how.quiet_apart_mm,
        # Between shapes nothing is measured: where they may be narrower than is known, they are
        # planned together.
        known_mm=max(max(one.land_mm, one.resist_mm) for one in narrow) + how.edge_tolerance_mm,
        face=face_as_seen(job.blank, shop.outline),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    """Where a shape is planned, as it lay there, and whether it is made as drawn."""

    home: Home
    shape: Recurring
    is_quiet: bool


class _Planned:
    """Shapes that are planned: which are planned together hangs on the rows alone."""

    def __init__(
        self, shop: Workshop, narrow: list[Narrow | None], tell: Tell, workers: int | None
    ) -> None:
        self._shop, self._narrow = shop, narrow
        self._tell, self._workers = tell, workers
        self._made: dict[int, _Made] = {}

    def plan(
        self, shapes: Iterable[tuple[Recurring, frozenset[int]]], *, as_drawn: bool = True
    ) -> None:
        """Plan shapes, each with the panels on which it lies, unless they are planned already.

        Of those that must be made as drawn it is told one by one which are not.
        """
        first: dict[int, Recurring] = {}
        panels: dict[int, frozenset[int]] = {}
        for shape, on in shapes:
            if shape.kind not in self._made:
                first.setdefault(shape.kind, shape)
                panels[shape.kind] = panels.get(shape.kind, frozenset()) | on
        # What is measured of all that is planned together holds for the panels of each.
        company: dict[frozenset[int], list[Recurring]] = {}
        for kind, shape in first.items():
            company.setdefault(panels[kind], []).append(shape)
        alone = [
            (shape, on)
            for on, some in self._tried(company, as_drawn)
            for shape in some
            if shape.kind not in self._made
        ]
        self._keep([((shape,), on) for shape, on in alone], as_drawn)

    def plan_groups(self, codes: Iterable[tuple[Coded, frozenset[int]]]) -> None:
        """Plan groups of modules, each code with the panels on which it lies, if they may be."""
        alike: dict[float, list[tuple[Coded, frozenset[int]]]] = {}
        for code, on in codes:
            alike.setdefault(code.side_mm, []).append((code, on))
        for some in alike.values():
            touch = [(code, on) for code, on in some if code.touches]
            panels = frozenset[int]().union(*(on for _, on in touch))
            if not touch or self._are_apart(touch[0][0], panels):
                self.plan((group, on) for code, on in some for group in code.groups)

    def _are_apart(self, code: Coded, panels: frozenset[int]) -> bool:
        """Tell whether groups of modules that touch have nothing to do with each other.

        The land between them is one of each of these panels.
        """
        shop, side = self._shop, code.side_mm
        order = Order(settings=touching(side, code.corner_mm), beside=self._widest(panels))
        keep_all(shop, [order], self._tell, 1, words="shape")
        made, (x, y) = shop.made(order), code.corner_mm
        if shop.job.blank.is_back_worked:
            x = shop.job.blank.width_mm - x - side
        coat = _coat(made)
        if not (is_quiet(coat) and are_made_alike(made, side, (x, y))):
            return False
        for panel in panels:
            known = self._narrow[panel]
            if known is not None:
                self._narrow[panel] = replace(
                    known,
                    resist_mm=min(known.resist_mm, coat.mask.narrowest_land_mm),
                    land_mm=min(known.land_mm, coat.finished_land_mm),
                )
        return True

    def _tried(
        self, company: Mapping[frozenset[int], Sequence[Recurring]], as_drawn: bool
    ) -> Iterator[tuple[frozenset[int], Sequence[Recurring]]]:
        """Plan shapes together; those that cannot be taken apart, or must be told, are left."""
        asked = [
            (some, on)
            for on, shapes in company.items()
            for some in some_at_a_time(shapes, self._shop.job)
        ]
        self._keep(asked, as_drawn)
        return ((on, some) for some, on in asked)

    def _keep(
        self, asked: Sequence[tuple[Sequence[Recurring], frozenset[int]]], as_drawn: bool
    ) -> None:
        from stopout.planning.panel.parting import may_be_parted

        orders = [
            Order(
                settings=tuple(shape.setting for shape in some),
                beside=self._widest(on),
                boxes=tuple((shape.box,) for shape in some),
            )
            for some, on in asked
        ]
        keep_all(self._shop, dict.fromkeys(orders), self._tell, self._workers, words="shape")
        for (some, _), order in zip(asked, orders, strict=True):
            coat = _coat(self._shop.made(order))
            quiet = is_quiet(coat)
            if len(some) > 1 and not (may_be_parted(coat) and (quiet or not as_drawn)):
                continue
            for number, shape in enumerate(some):
                home = Home(order=order, number=number, comes_again=True)
                self._made[shape.kind] = _Made(home=home, shape=shape, is_quiet=quiet)

    def _widest(self, on: Iterable[int]) -> Narrow:
        """What need not be measured on any of some panels."""
        narrow = [one for one in (self._narrow[panel] for panel in on) if one is not None]
        return Narrow.each(max, narrow)

    def again(self, split: Split) -> Again:
        """Return where what comes again in a piece is planned."""
        shapes, rest = list(split.words), list(split.rest)
        for cluster in split.lettered:
            # Letters so near have nothing to do with each other only where they are as drawn.
            if all(self._made[letter.kind].is_quiet for letter in cluster.letters):
                shapes += cluster.letters
            else:
                rest.append(cluster.box)
        homes, codes, without = [self._home(shape) for shape in shapes], list[Box](), list[Box]()
        for code in split.coded:
            groups = [one for one in _one_by_the_other(code) if self._is_quiet(one)]
            (codes if groups else rest).append(code.box)
            without += [group.box for group in groups]
            homes += [replace(self._home(group), is_group=True) for group in groups]
        return Again(
            homes=tuple(homes), rest=tuple(rest), codes=tuple(codes), without=tuple(without)
        )

    def _is_quiet(self, shape: Recurring) -> bool:
        return shape.kind in self._made and self._made[shape.kind].is_quiet

    def _home(self, shape: Recurring) -> Home:
        """How far, as worked, a shape lies from where it lies first: whole steps of a program's."""
        made = self._made[shape.kind]
        x, y = (
            round(to - of, COORDINATE_DECIMALS)
            for to, of in zip(shape.corner_mm, made.shape.corner_mm, strict=True)
        )
        shift = (-x if self._shop.job.blank.is_back_worked else x, y)
        return Home(
            order=made.home.order, number=made.home.number, shift_mm=shift, comes_again=True
        )


def _one_by_the_other(code: Coded) -> list[Recurring]:
    """Return groups as the beam comes to them: from the code's corner, each next the nearest."""
    left, found, at = list(code.groups), list[Recurring](), code.corner_mm
    while left:
        found.append(min(left, key=lambda group: math.dist(group.corner_mm, at)))
        left.remove(found[-1])
        at = found[-1].corner_mm
    return found


def _coat(made: Together) -> CoatPlan:
    assert made.coat is not None
    return made.coat
