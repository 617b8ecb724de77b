"""Recording a health check: the answers go to the core, its verdict and reasons are kept with them."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any, cast

from django.db import transaction

from sugarbush.audit.models import record
from sugarbush.core import health
from sugarbush.trees.actions_treatment import write_answer
from sugarbush.trees.keeping import consider, keep, take
from sugarbush.trees.models import HealthCheck, Tree
from sugarbush.trees.records import HoleClosure
from sugarbush.volunteers.access import require
from sugarbush.volunteers.models import Person

YES_OR_NO = (
    "large_dead_limbs",
    "topped_or_defoliated",
    "cavity",
    "conks",
    "cracks",
    "construction",
    "herbicide",
    "no_safe_place",
)
# Signs that an arborist should look at, as the core has it.
ARBORIST_CODES = frozenset({"cavity", "conks", "cracks", "large_dead_limbs"})
ANSWERS = ("crown_dieback_pct", *YES_OR_NO, "salt", "old_holes")


def verdict_of(answers: dict[str, Any]) -> health.HealthVerdict:
    """What the core makes of the form's answers."""
    return health.health_verdict(
        crown_dieback_pct=answers["crown_dieback_pct"],
        cavity=answers["cavity"],
        conks=answers["conks"],
        cracks=answers["cracks"],
        large_dead_limbs=answers["large_dead_limbs"],
        root_or_construction_work=answers["construction"],
        road_salt=cast(health.Salt, str(answers["salt"])),
        old_holes_open=answers["old_holes"] == HoleClosure.OPEN,
        some_holes_open=answers["old_holes"] == HoleClosure.PART,
        topped_or_defoliated=answers["topped_or_defoliated"],
        lawn_weedkiller=answers["herbicide"],
        no_safe_place=answers["no_safe_place"],
    )


def kept_reasons(verdict: health.HealthVerdict) -> list[dict[str, Any]]:
    """The reasons as they are stored: the sentence with its gaps, so that each reader sees their own language."""
    return [
        {
            "code": reason.code,
            "verdict": reason.verdict,
            "text": reason.text,
            "standing": reason.standing,
            "values": dict(reason.values),
        }
        for reason in verdict.reasons
    ]


@transaction.atomic
def record_check(
    *,
    by: Person,
    tree: Tree,
    date: dt.date,
    answers: dict[str, Any],
    treatment: str,
    said_by: str,
    note: str = "",
    row_uuid: uuid.UUID | None = None,
) -> HealthCheck:
    """Keep a check with its verdict, and the answer about insecticide as a record of its own."""
    tree = take(tree)
    require(by, "tree.check", group_id=tree.group_id)
    if row_uuid and (before := HealthCheck.objects.filter(uuid=row_uuid, tree=tree).first()):
        return before
    verdict = verdict_of(answers)
    check = HealthCheck.objects.create(
        uuid=row_uuid,
        tree=tree,
        date=date,
        checker=by,
        verdict=verdict.verdict,
        reasons=kept_reasons(verdict),
        note=note,
        **{name: answers[name] for name in ANSWERS},
    )
    write_answer(by=by, tree=tree, answer=treatment, said_by=said_by, date=date)
    consider(tree)
    keep(tree, by=by)
    record(
        by=by,
        act="health check",
        subject=tree,
        new={"verdict": verdict.verdict, "reasons": [reason.code for reason in verdict.reasons], "treated": treatment},
    )
    return check
