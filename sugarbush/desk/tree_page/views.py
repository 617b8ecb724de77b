"""One page that tells a tree's life."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from sugarbush.desk.tree_page.seasons import bars_of, past_of, seasons_of
from sugarbush.desk.tree_page.sizes import sizes_of
from sugarbush.desk.tree_page.timeline import history_rows, life_changes, timeline
from sugarbush.desk.tree_page.worked import taps_words, worked_out
from sugarbush.owners.models import Permission
from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Reason
from sugarbush.taps.facts import TreeFacts, read_facts
from sugarbush.taps.gate import GateAct, gate, names_for
from sugarbush.taps.said import closed_title, open_title
from sugarbush.taps.trunk import trunk_of
from sugarbush.trees.models import Tree
from sugarbush.trees.queries import checks_of, looks_at, treatments_of
from sugarbush.trees.views.finding import tree_page
from sugarbush.volunteers.access import holds, scope, why_not
from sugarbush.volunteers.models import Group, Membership, Person
from sugarbush.volunteers.views_help import SignedInRequest


@tree_page()
@require_GET
def tree(request: SignedInRequest, tree: Tree) -> HttpResponse:
    """The tree's own page. Everybody of its group sees it; owners' names only those who may."""
    person, units, on = request.user, units_of(request), timezone.localdate()
    facts = read_facts([tree.pk])[tree.pk]
    act: GateAct = "tap" if facts.assignment or facts.spouts_in else "assign"
    names = names_for(person, tree)
    reasons = gate(tree, act, on, facts=facts, units=units, names=names)
    looks, checks, treatments, history = looks_at(tree), checks_of(tree), treatments_of(tree), history_rows(tree)
    left = facts.allowance(on, act).left
    seasons = seasons_of(facts, checks, life_changes(history))
    context = {
        "tree": tree,
        "facts": facts,
        "today": on,
        "sure_by": next((look for look in looks if look.species_id == tree.species_id and look.evidence), None),
        "act": act,
        "reasons": reasons,
        "title": _title(facts, act, reasons, left),
        "open_text": _open_text(act),
        "worked": worked_out(facts, on, act, units),
        "trunk": trunk_of(facts, on, units, wanted=left if not reasons else 0),
        "slips": _slips(facts),
        "names": names,
        "sees_slips": scope(person, "permission.see").covers(tree.group_id),
        "looks": looks,
        "checks": checks,
        "treatments": treatments,
        "sizes": sizes_of(looks, units=units, taps=facts.allowance(on, act).taps),
        "seasons": seasons,
        "season_bars": bars_of(seasons, units),
        "past": past_of(tree),
        "happened": timeline(
            tree,
            history=history,
            looks=looks,
            checks=checks,
            treatments=treatments,
            taps=facts.taps,
            slips=facts.permissions,
            sees_slips=scope(person, "permission.see").covers(tree.group_id),
        ),
        **_acts(person, tree, facts, act, reasons),
    }
    return render(request, "desk/tree.html", context)


def _title(facts: TreeFacts, act: GateAct, reasons: list[Reason], left: int) -> str:
    code = facts.tree.code
    if not reasons:
        return open_title(act, left)
    if [reason.code for reason in reasons] == ["full"]:
        holes = len(facts.holes_this_season)
        return _("%(code)s has its %(taps)s this season") % {"code": code, "taps": taps_words(holes)}
    return closed_title(code, act, len(reasons))


def _open_text(act: GateAct) -> str:
    if act == "tap":
        return _("Permission live, health check good, species sure, not treated, trunk wide enough, given out.")
    return _("Permission, health check, species, insecticide and size all say yes. Give it to a group next.")


def _slips(facts: TreeFacts) -> list[Permission]:
    """Newest first, those that count before those that are over."""
    return sorted(facts.permissions, key=lambda slip: (not slip.is_live_kind, -slip.pk))


def _acts(person: Person, tree: Tree, facts: TreeFacts, act: GateAct, reasons: list[Reason]) -> dict[str, Any]:
    """What this person may do here; one of it is the amber act."""
    may_give = scope(person, "assign").covers(tree.group_id) and holds(person, "assign")
    groups = _groups(person) if may_give else []
    may_tap = act == "tap" and scope(person, "tap.place").covers(tree.group_id)
    return {
        "may_give": may_give,
        "groups": groups,
        "people": _people(groups),
        "may_tap": may_tap,
        "why_not_tap": why_not(person, "tap.place", group_id=tree.group_id) if may_tap and not reasons else "",
        "may_look": scope(person, "tree.scout").covers(tree.group_id),
        "may_check": not why_not(person, "tree.check", group_id=tree.group_id),
        "may_change": scope(person, "tree.change").covers(tree.group_id),
        "may_answer": scope(person, "treatment.record").covers(tree.group_id),
        "may_draft": scope(person, "permission.draft").covers(tree.group_id),
        "main": _main(act, reasons, may_give=may_give, may_tap=may_tap),
    }


def _main(act: GateAct, reasons: list[Reason], *, may_give: bool, may_tap: bool) -> str:
    if act == "tap" and may_tap and not reasons:
        return "tap"
    if act == "assign" and may_give and not reasons:
        return "give"
    return ""


def _groups(person: Person) -> list[Group]:
    reach = scope(person, "assign")
    return list(Group.objects.all() if reach.everything else Group.objects.filter(pk__in=reach.group_ids))


def _people(groups: list[Group]) -> list[Person]:
    if not groups:
        return []
    live = Membership.objects.live(timezone.localdate()).filter(group__in=groups)
    return list(Person.objects.filter(is_active=True, pk__in=live.values("person")).order_by("display_name", "pk"))
