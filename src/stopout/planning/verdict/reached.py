"""From a plan's findings to its verdict."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from stopout.planning.verdict.grouping import gather
from stopout.planning.verdict.ranks import LOOKS, SAFETY, SPOILS
from stopout.planning.verdict.record import UNMEASURED, Verdict
from stopout.planning.verdict.remedies import Mender
from stopout.planning.verdict.things import Things
from stopout.values import Finding, Level


def reach_verdict(
    findings: Iterable[Finding], things: Things, mender: Mender | None = None
) -> Verdict:
    """Return the verdict on a plan.

    Parameters
    ----------
    findings : iterable of Finding
        All of the plan, place by place.
    things : Things
        Lettering, rules and pictures of the drawing, as worked.
    mender : Mender, optional
        Finds remedies and tries them; without it those of the findings stand.
    """
    found = tuple(findings)
    told = gather(found, things, mender)
    state: Literal["ready", "look", "stopped"] = "ready"
    if any(one.level is Level.STOP for one in told):
        state = "stopped"
    elif any(
        one.level is Level.CAUTION
        and one.rank[0] in (SPOILS, LOOKS, SAFETY)
        and (one.places_mm or one.rank[0] == SPOILS)
        for one in told
    ):
        state = "look"
    return Verdict(
        state=state, unmeasured=any(finding.code in UNMEASURED for finding in found), told=told
    )
