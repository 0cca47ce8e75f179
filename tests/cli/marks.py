"""A mark against a spot: the plan and the coupons that they give, or the refusal."""

from __future__ import annotations

import json
import traceback

from cli.extremes import faults, texts_of
from jobs.model_values import METAL, as_toml
from stopout.coupons import layout_to_dict
from stopout.errors import StopoutError
from stopout.jobs import parse_job
from stopout.library.knowledge import knowledge_for
from stopout.planning.coupon.road import coupon_job, plan_coupon

MARKS_MM = [round(10 ** (k / 4), 4 - min(k // 4, 0)) for k in range(-12, 5)]
SPOTS_MM = [0.001, 0.005, 0.02, 0.05, 0.12, 0.17, 0.4, 1.0, 3.0, 10.0]


def tried(mark_mm, spot_mm):
    """What comes of a pair: nothing, "refused", or "fault: ..."."""
    machine = {**METAL["machine"], "spot": f"{spot_mm} mm", "step": f"{min(spot_mm, 0.0125)} mm"}
    clearing = {**METAL["clearing"], "mark": f"{mark_mm} mm"}
    text = as_toml({**METAL, "machine": machine, "clearing": clearing})
    refused = False
    try:
        said = texts_of(text)
        refused = "refusal" in said
        for kind in ("clearing", "etch"):
            told = _coupon(kind, text)
            refused = refused or "refusal" in told
            said |= {f"{kind} {name}": words for name, words in told.items()}
    except Exception as fault:
        last = traceback.extract_tb(fault.__traceback__)[-1]
        return f"fault: {type(fault).__name__} {last.filename}:{last.lineno} {fault}"
    if found := list(faults(said)):
        return f"fault: {found[0][0]} says {found[0][1]} (and {len(found) - 1} more)"
    return "refused" if refused else ""


def _coupon(kind, text):
    try:
        job = parse_job(text.encode(), file="tag.toml")
        wanted = coupon_job(job, kind, size_mm=(60.0, 40.0))
        made = plan_coupon(kind, wanted, knowledge_for(wanted))
    except StopoutError as error:
        return {"refusal": str(error)}
    told = [f"{f.message} {f.remedy}" for f in made.plan.findings]
    return {"findings": "\n".join(told), "coupon.json": json.dumps(layout_to_dict(made.layout))}
