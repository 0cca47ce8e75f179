"""From the options of `stopout bath` to what the library is asked, and to all that is printed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from stopout.cli.asked.options import Given
from stopout.errors import StopoutError, UnitError
from stopout.library.bath import BathAnswer, BathQuestion, plan_bath

if TYPE_CHECKING:
    from stopout.etching import EtchPlan, Remaining
    from stopout.values import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What is to be printed. `lost_mm` is the mean depth of the loss `loss_g`."""

    asked: Given
    answer: BathAnswer
    left: Remaining | None = None
    loss_g: float | None = None
    lost_mm: float | None = None


def answer_of(asked: Given, fields: dict[str, Any]) -> Answer:
    """Plan what the options ask for.

    Parameters
    ----------
    asked : Given
        The options.
    fields : dict
        Those that the question holds, by its fields.

    Raises
    ------
    StopoutError
        In one sentence, naming the option.
    """
    question = _question(asked, fields)
    left = _remaining(question.depth_mm, asked.measured_depth, asked.after, asked.error)
    answer = plan_bath(question, own_tables=asked.tables)
    if answer.plan is not None:
        found = [*answer.findings, *_left_out(answer.plan, asked)]
        rank = {"stop": 0, "caution": 1, "note": 2}
        answer = replace(answer, findings=tuple(sorted(found, key=lambda one: rank[one.level])))
    return Answer(
        asked=asked,
        answer=answer,
        left=left,
        loss_g=asked.loss,
        lost_mm=_mean_depth(asked.loss, answer),
    )


def _question(asked: Given, fields: dict[str, Any]) -> BathQuestion:
    _check_current(asked)
    if asked.size is not None and asked.area > asked.size[0] * asked.size[1]:
        raise UnitError(
            f"--area: {asked.area / 100:g} cm^2 is more than the piece of --size "
            f"{asked.size[0]:g} x {asked.size[1]:g} mm has; give the open area of one piece"
        )
    return BathQuestion(**fields)


def _check_current(asked: Given) -> None:
    """What only a current takes, and what it takes the place of, told with the options' names."""
    from stopout.tables import ELECTROLYTIC, electrolytes_for

    if asked.etchant != ELECTROLYTIC:
        if asked.electrolyte is not None:
            raise StopoutError("--electrolyte is for --etchant electrolytic; leave it out")
        if (asked.current, asked.current_density, asked.voltage) != (None, None, None):
            raise StopoutError("a current is for --etchant electrolytic; leave it out")
        return
    if asked.electrolyte is None:
        known = ", ".join(electrolytes_for(asked.material)) or "none is known"
        raise StopoutError(f"--electrolyte is missing; for {asked.material}: {known}")
    if asked.current is not None and asked.current_density is not None:
        raise StopoutError("give --current or --current-density, not both")
    if asked.rate is not None:
        raise StopoutError("--rate follows from the current; give --efficiency as measured")


def _left_out(plan: EtchPlan, asked: Given) -> list[Finding]:
    """What was taken for the options that were not given."""
    from stopout.values import Finding

    no_size = asked.size is None and plan.use.tray_mm is None
    left_out = (
        (asked.strength is None, "--strength", f"{plan.strength.as_given}, a usual bath"),
        (asked.temperature is None, "--temperature", f"{plan.temperature_degc:g} degC"),
        (
            asked.edge is None,
            "--edge",
            "0 mm: the side walls' metal, heat and gas are not calculated",
        ),
        (no_size, "--size", "none: covering is not calculated"),
    )
    return [
        Finding.note("bath-default", f"{option} is left out and taken as {taken}")
        for is_out, option, taken in left_out
        if is_out
    ]


def _remaining(
    depth_mm: float, measured: float | None, after: float | None, error: float | None
) -> Remaining | None:
    """The time that is left, where a depth was measured on the way."""
    if measured is None and after is None:
        if error is not None:
            raise StopoutError("--error belongs to --measured-depth; give that, and --after")
        return None
    if measured is None or after is None:
        raise StopoutError("--measured-depth and --after go together: a depth, and the time so far")
    from stopout.etching import remaining_time

    return remaining_time(
        depth_mm=depth_mm, measured_depth_mm=measured, after_s=after, error_mm=error or 0.0
    )


def _mean_depth(loss_g: float | None, answer: BathAnswer) -> float | None:
    if loss_g is None or answer.plan is None or answer.pair is None:
        return None
    from stopout.etching import mean_depth_mm

    asked = answer.question
    return mean_depth_mm(
        loss_g=loss_g,
        density_g_per_cm3=answer.pair.material.density_g_per_cm3.value,
        opening_area_mm2=asked.opening_area_mm2,
        opening_edge_mm=asked.opening_edge_mm,
        parts=asked.opening_parts,
        holes=asked.opening_islands,
        etch_factor=answer.plan.etch_factor.value,
    )
