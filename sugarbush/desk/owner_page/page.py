"""What an owner reads of their trees, in words for people who know nothing of sap."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.owners import actions_by_link as acts
from sugarbush.owners.consent import limits_of
from sugarbush.owners.models import OwnerAnswer, OwnerLink, Permission, PermissionState, Said
from sugarbush.sap.models import Cause, Movement, Standing
from sugarbush.sap.totals import signed_ml
from sugarbush.seasons.models import Season
from sugarbush.shares import runs
from sugarbush.shares.terms import jars_words
from sugarbush.taps.facts import TreeFacts, read_facts
from sugarbush.trees.models import HealthCheck, Shown, Tree
from sugarbush.trees.records import TreatmentAnswer, Verdict

MOST_SLIPS = 50


@dataclass(frozen=True, kw_only=True)
class OwnTree:
    """One tree as its owner reads it."""

    tree: Tree
    hangs: str
    comes_out: str
    to_pull: bool
    health: str
    sap_ml: int
    treated: str


@dataclass(frozen=True, kw_only=True)
class OwnSlip:
    """One permission as its owner reads it."""

    slip: Permission
    codes: str
    more: int
    words: str
    limits: tuple[str, ...]
    answer: OwnerAnswer | None
    waits: bool
    may_stop: bool
    stopped_here: bool


def day_words(day: dt.date | dt.datetime) -> str:
    return date_format(day, "j F Y")


def own_trees(trees: Iterable[Tree], season: Season | None, on: dt.date) -> list[OwnTree]:
    """The trees of one page; about nine queries, however many trees."""
    rows = list(trees)
    facts = read_facts([tree.pk for tree in rows], season)
    sap = _sap([tree.pk for tree in rows], season)
    return [_own(tree, facts[tree.pk], sap.get(tree.pk, 0), on) for tree in rows]


def _sap(tree_ids: list[int], season: Season | None) -> dict[int, int]:
    """What each tree gave this season and counts, in millilitres."""
    if season is None:
        return {}
    rows = Movement.objects.filter(
        act__tree_id__in=tree_ids, season=season, act__standing=Standing.COUNTED, cause=Cause.OUT_OF_TREE
    )
    return dict(rows.values_list("act__tree_id").annotate(ml=signed_ml()).order_by())


def _own(tree: Tree, facts: TreeFacts, sap_ml: int, on: dt.date) -> OwnTree:
    spouts = facts.spouts_in
    to_pull = bool(spouts) and tree.shown == Shown.PULL
    return OwnTree(
        tree=tree,
        hangs=_hangs(facts),
        comes_out=_comes_out(facts, on, to_pull) if spouts else "",
        to_pull=to_pull,
        health=health_words(facts.check),
        sap_ml=sap_ml,
        treated=_treated_words(facts),
    )


def _hangs(facts: TreeFacts) -> str:
    spouts = facts.spouts_in
    if spouts:
        pails = len({tap.container_id or tap.pk for tap in spouts})
        return _("%(spouts)s and %(pails)s since %(day)s") % {
            "spouts": ngettext("%(n)d spout", "%(n)d spouts", len(spouts)) % {"n": len(spouts)},
            "pails": ngettext("%(n)d pail", "%(n)d pails", pails) % {"n": pails},
            "day": day_words(min(tap.placed_at for tap in spouts)),
        }
    outs = [tap.out_at for tap in facts.holes_this_season if tap.out_at is not None]
    if outs:
        return _("nothing any more; the last spout came out on %(day)s") % {"day": day_words(max(outs))}
    return _("nothing")


def _comes_out(facts: TreeFacts, on: dt.date, to_pull: bool) -> str:
    if to_pull:
        return _("now: somebody comes to pull it, and no new hole is drilled")
    days = [slip.date_to for slip in facts.live(on) if slip.date_to]
    if facts.season is not None:
        days.append(facts.season.tapping_to)
    return _("by %(day)s") % {"day": day_words(min(days))} if days else ""


def health_words(check: HealthCheck | None) -> str:
    """The last look at a tree in plain words."""
    if check is None:
        return _("not looked at yet; no hole is drilled before")
    words = {
        Verdict.PASS: _("it looked well"),
        Verdict.WATCH: _("well enough for one spout, no more; we watch it"),
        Verdict.FAIL: _("it needs rest; we do not tap it"),
    }
    return _("%(words)s (%(day)s)") % {"words": words[Verdict(check.verdict)], "day": day_words(check.date)}


def _treated_words(facts: TreeFacts) -> str:
    said = facts.treated or facts.treatment_answer
    if said is None:
        return _("nobody has answered yet")
    words = {
        TreatmentAnswer.NO: _("no"),
        TreatmentAnswer.YES: _("yes, so it is not tapped"),
        TreatmentAnswer.UNKNOWN: _("nobody knows, so it is not tapped"),
    }
    return _("%(answer)s (said on %(day)s)") % {
        "answer": words[TreatmentAnswer(said.answer)],
        "day": day_words(said.date),
    }


# Permissions ---------------------------------------------------------------------


def own_slips(link: OwnerLink, units: str, on: dt.date) -> list[OwnSlip]:
    """The owner's permissions, those that wait first; four queries."""
    slips = list(
        acts.slips_of(link).select_related("owner").prefetch_related("lines__tree", "answers_by_link")[:MOST_SLIPS]
    )
    return sorted((own_slip(slip, units, on) for slip in slips), key=lambda row: not row.waits)


def own_slip(slip: Permission, units: str, on: dt.date) -> OwnSlip:
    """One of them. `lines__tree` and `answers_by_link` are read for all at once."""
    codes = sorted(line.tree.code for line in slip.lines.all())
    answers = list(slip.answers_by_link.all())
    return OwnSlip(
        slip=slip,
        codes=", ".join(codes[:8]),
        more=max(0, len(codes) - 8),
        words=_slip_words(slip, on),
        limits=tuple(limits_of(slip, units)),
        answer=next((one for one in answers if one.said == Said.YES), None),
        waits=slip.state in acts.WAITING,
        may_stop=slip.state in acts.STANDING,
        stopped_here=any(one.said == Said.STOP for one in answers),
    )


def _slip_words(slip: Permission, on: dt.date) -> str:
    """How it stands, as said to the owner."""
    end = day_words(slip.date_to) if slip.date_to else ""
    if slip.state in acts.WAITING:
        return _("waits for your answer")
    if slip.state == PermissionState.REFUSED:
        return _("you said no; the trees are left alone")
    if slip.state == PermissionState.REVOKED:
        ended = day_words(slip.ended_at) if slip.ended_at else ""
        return _("stopped on %(day)s; no new hole is drilled") % {"day": ended}
    if slip.state == PermissionState.SUSPENDED:
        return _("paused; no new hole is drilled")
    if slip.date_to and slip.date_to < on:
        return _("you said yes; it ended on %(day)s") % {"day": end}
    return _("you said yes, until %(day)s") % {"day": end}


def share_words(link: OwnerLink, season: Season | None, units: str) -> str:
    """Their share of the syrup, once it is worked out for good; empty before."""
    run = runs.final_of(season) if season is not None else None
    share = run.shares.filter(owner=link.owner_id).first() if run is not None else None
    if share is None:
        return ""
    return f"{jars_words(share.by_size, units)}, {share.get_taken_display()}"
