"""Signs that are lit: windows to light, and a diffuser coat behind them."""

from __future__ import annotations

from collections.abc import Sequence

from stopout.etching import Resist
from stopout.job.record import Coat, Job
from stopout.values import Finding


def coat_name(coat: Coat, resist: Resist) -> str:
    """Return what a coat is called where it stands beside others: "white diffuser"."""
    diffuses = resist.is_diffuser and not coat.is_window
    return f"{coat.colour} diffuser" if diffuses else coat.colour


def light_findings(job: Job, resists: Sequence[Resist]) -> list[Finding]:
    """Findings about a sign's paints: a diffuser goes on last, and what comes off is none.

    Parameters
    ----------
    job : Job
        The job.
    resists : sequence of Resist
        The paints of its coats, in their order.
    """
    diffusers = [number for number, resist in enumerate(resists, start=1) if resist.is_diffuser]
    sprayed = [number for number, coat in enumerate(job.coats, start=1) if not coat.is_window]
    passing = [
        _comes_off(number, job.coats[number - 1], resists[number - 1])
        for number in sprayed
        if job.route.is_sign and resists[number - 1].is_temporary
    ]
    return passing + [
        _not_last(number, job.coats[number - 1], job.coats[number])
        for number in diffusers
        if number in sprayed and number != sprayed[-1]
    ]


def _comes_off(number: int, coat: Coat, resist: Resist) -> Finding:
    return Finding.stop(
        "coat-temporary",
        f"coat {number}, {coat.colour}, is {resist.name}, which is made to come off again: it "
        "is no lasting coat of a sign",
        'Take a paint that stays, such as paint = "acrylic-lacquer".',
    )


def _not_last(number: int, coat: Coat, after: Coat) -> Finding:
    return Finding.caution(
        "diffuser-not-last",
        f"coat {number} ({coat.colour}) is a diffuser and {after.colour} goes on over it: "
        "light cannot come through from behind, and the coat is too thin to hide "
        f"{after.colour}",
        "Make the diffuser the last coat that is sprayed, or take an opaque paint.",
    )
