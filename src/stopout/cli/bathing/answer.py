"""What `stopout bath` prints: for people with what can hurt first, or as JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from stopout.cli.speech.telling import say, say_json

if TYPE_CHECKING:
    from stopout.cli.bathing.question import Answer
    from stopout.etching import EtchPlan, Hazard, Pair
    from stopout.etching.explain import Explained
    from stopout.library.bath import BathQuestion
    from stopout.values import Finding


def print_answer(answer: Answer, *, as_json: bool) -> None:
    """Print the answer on standard output, and its findings on standard error.

    Parameters
    ----------
    answer : Answer
        Of `answer_of`.
    as_json : bool
        One JSON object, findings included, instead of the text.
    """
    # Of a bath that is refused, nothing may read as advice how to run it.
    pair, plan, findings = answer.answer.pair, answer.answer.plan, answer.answer.findings
    if plan is not None and _is_refused(findings):
        findings = tuple(finding for finding in findings if finding.level == "stop")
    if as_json:
        say_json(_content(answer, findings))
        return
    if plan is not None and pair is not None and not _is_refused(findings):
        say("\n".join(_lines(answer, pair, plan)))
    for finding in findings:
        remedy = f" {finding.remedy}" if finding.remedy else ""
        say(f"{finding.level}: {finding.message}.{remedy}", to_stderr=True)


def _lines(answer: Answer, pair: Pair, plan: EtchPlan) -> list[str]:
    """Stops and dangers, then the numbers, the formulas, and what was asked on the way."""
    from stopout.cli.bathing.text import (
        bath_lines,
        explained_lines,
        hazard_lines,
        heading_lines,
        loss_lines,
        remaining_lines,
        warning_lines,
    )

    hazards = _hazards(pair)
    lines = [*warning_lines(answer.answer.findings, hazards), ""]
    lines += [*heading_lines(pair, plan), "", *hazard_lines(pair, hazards)]
    lines += bath_lines(pair, plan)
    if answer.asked.explain:
        lines += ["", *explained_lines(_explained(pair, plan, answer.answer.question))]
    if answer.left is not None:
        lines += ["", *remaining_lines(answer.left, plan.depth_mm)]
    if answer.loss_g is not None and answer.lost_mm is not None:
        lines += ["", *loss_lines(answer.loss_g, answer.lost_mm, plan.depth_mm)]
    return lines


def _content(answer: Answer, findings: tuple[Finding, ...]) -> dict[str, Any]:
    from stopout.planning.etch.summary import etch_summary

    pair, plan = answer.answer.pair, answer.answer.plan
    told = [_plain(finding) for finding in findings]
    content: dict[str, Any] = {"material": answer.asked.material, "etchant": answer.asked.etchant}
    if pair is None or plan is None:
        return content | {"findings": told}
    refused = _is_refused(findings)
    if not refused:
        content |= etch_summary(plan)
    content["hazards"] = [hazard.ident for hazard in _hazards(pair)]
    content["findings"] = told
    content["values"] = [asdict(value) for value in plan.values]
    content["remaining"] = None if answer.left is None else asdict(answer.left)
    content["mean_depth_mm"] = answer.lost_mm
    if answer.asked.explain and not refused:
        formulas = _explained(pair, plan, answer.answer.question)
        content["formulas"] = [asdict(item) for item in formulas]
    return content


def _is_refused(findings: tuple[Finding, ...]) -> bool:
    """Tell whether nothing may read as a recipe."""
    from stopout.etching import CEILING
    from stopout.tables import load_refusals

    codes = {"chromate", "voltage-high"} | {rule.code for rule in load_refusals()}
    stops = [finding.code for finding in findings if finding.level == "stop"]
    return any(code in codes or code.startswith(("rate-", CEILING)) for code in stops)


def _explained(pair: Pair, plan: EtchPlan, asked: BathQuestion) -> tuple[Explained, ...]:
    from stopout.etching.bath.electrolytic import cell_pair
    from stopout.etching.explain import explain

    if plan.electro is not None:
        pair = cell_pair(pair, plan.electro, plates_out=not pair.gas)
    return explain(
        pair,
        plan,
        opening_area_mm2=asked.opening_area_mm2,
        opening_edge_mm=asked.opening_edge_mm,
        parts=asked.opening_parts,
        holes=asked.opening_islands,
    )


def _hazards(pair: Pair) -> tuple[Hazard, ...]:
    """What the bath, its gas, the metal and what makes the bath neutral can do."""
    from stopout.tables import load_hazards

    neutral = [ident for way in pair.neutralisers for ident in way.hazards]
    return load_hazards((*pair.etchant.hazards, *pair.hazards, *pair.material.hazards, *neutral))


def _plain(finding: Finding) -> dict[str, str]:
    return {
        "code": finding.code,
        "level": str(finding.level),
        "message": finding.message,
        "remedy": finding.remedy,
    }
