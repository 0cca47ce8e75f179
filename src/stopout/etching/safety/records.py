"""Frozen records of hazards, first aid, protective wear, spills and incidents, as read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from stopout.etching.records import Advice, Sourced
from stopout.values import Kind

Route = Literal["eyes", "skin", "breathed", "swallowed"]
ROUTES: tuple[Route, ...] = get_args(Route)
# The rank of a route that a hazard cannot take, such as a swallowed gas: said, and not left blank.
DOES_NOT_ARISE = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A named limit of a hazard: an exposure limit, a flammable limit, a flash point."""

    name: str
    value: Sourced


@dataclass(frozen=True, slots=True, kw_only=True)
class Aid:
    """First aid for one route; of two, the one of the higher rank is the stricter."""

    advice: Advice
    rank: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstAid:
    """First aid by route: each is given, if only to say that it does not arise."""

    eyes: Aid
    skin: Aid
    breathed: Aid
    swallowed: Aid

    def by(self, route: Route) -> Aid:
        """The first aid for one route."""
        found: Aid = getattr(self, route)
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """Something to put on.

    Within one `part` of the body (eyes, hands, against dust ...) an entry of a higher rank covers
    those below it.
    """

    ident: str
    part: str
    rank: int
    advice: Advice


@dataclass(frozen=True, slots=True, kw_only=True)
class Incident:
    """Something that may go wrong, and what is done; `number` is its place among all of them."""

    ident: str
    number: int
    title: str
    steps: tuple[Advice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """What a chemical or a beam can do, what guards against it, and what is done afterwards.

    `short` is what it is called in a list of several.
    `statements` and `precautions` are codes of the statements table; `signs` are ISO 7010
    register numbers. `arises` names the steps at which the hazard is met: coating, clearing,
    mixing, etching, rinsing, stripping, waste. `spill` says what is done with what has got out,
    `incidents` what else may go wrong.
    """

    ident: str
    name: str
    short: str
    cas: str
    signal: Literal["Danger", "Warning", ""]
    pictograms: tuple[str, ...]
    statements: tuple[str, ...]
    precautions: tuple[str, ...]
    classification: Advice
    arises: tuple[str, ...]
    first_aid: FirstAid
    spill: tuple[Advice, ...]
    wear: tuple[Wear, ...]
    signs: tuple[str, ...] = ()
    cautions: tuple[Advice, ...] = ()
    storage: tuple[Advice, ...] = ()
    never_mix: tuple[Advice, ...] = ()
    limits: tuple[Limit, ...] = ()
    incidents: tuple[Incident, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A hazard or precautionary statement by its code."""

    code: str
    text: str
    kind: Kind
    source: str
