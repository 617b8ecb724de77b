"""What happened to a tree, newest first, from everything that was recorded at it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.audit.models import AuditEvent
from sugarbush.owners.models import Permission
from sugarbush.taps.models import Assignment, AssignmentState, Tap
from sugarbush.trees.models import HealthCheck, Life, Treatment, Tree, TreeObservation

MOST = 40
SLIP_ACTS = {
    "write permission": gettext_lazy("brought"),
    "permission asked": gettext_lazy("asked"),
    "permission no_answer": gettext_lazy("no answer"),
    "permission refused": gettext_lazy("the answer was no"),
    "permission granted": gettext_lazy("said yes"),
    "permission suspended": gettext_lazy("suspended"),
    "permission revoked": gettext_lazy("taken back"),
}


@dataclass(frozen=True, kw_only=True)
class Happened:
    """One line: the day, what, by whom, and where it is told in full."""

    on: dt.date
    what: str
    who: str = ""
    url: str = ""


def life_changes(history: list[Any]) -> list[tuple[dt.date, str]]:
    """(day, life) whenever the tree's life changed, oldest first. history: the tree's own rows, oldest first."""
    changes: list[tuple[dt.date, str]] = []
    for row in history:
        if not changes or changes[-1][1] != row.life:
            changes.append((timezone.localdate(row.history_date), row.life))
    return changes


def history_rows(tree: Tree) -> list[Any]:
    """The tree's own past, oldest first; one query."""
    rows = tree.history.select_related("history_user", "group").order_by("history_date", "history_id")
    return list(rows[:500])


def timeline(
    tree: Tree,
    *,
    history: list[Any],
    looks: list[TreeObservation],
    checks: list[HealthCheck],
    treatments: list[Treatment],
    taps: list[Tap],
    slips: list[Permission],
    sees_slips: bool,
) -> list[Happened]:
    """The newest lines. What the page has read already is given in; assignments and slips cost one query each."""
    lines = [
        *_own(history),
        *(_look(look) for look in looks),
        *(_check(tree, check) for check in checks),
        *(
            Happened(on=one.date, what=_("Treated inside? %(answer)s") % {"answer": one.get_answer_display()})
            for one in treatments
        ),
        *_taps(taps),
        *_given(tree),
        *_slips(slips, linked=sees_slips),
    ]
    return sorted(lines, key=lambda line: line.on, reverse=True)[:MOST]


def _own(history: list[Any]) -> Iterable[Happened]:
    words = {
        Life.CANDIDATE: _("In the programme’s sights"),
        Life.RESTING: _("Set to rest"),
        Life.EXCLUDED: _("Set aside: not for tapping"),
        Life.FELLED: _("Felled"),
        Life.LISTED: _("In the town’s list"),
    }
    before = None
    for row in history:
        on, who = timezone.localdate(row.history_date), str(row.history_user or "")
        if before is None:
            yield Happened(on=on, what=_("Entered"), who=who)
        else:
            if before.life != row.life:
                why = f": {row.life_reason}" if row.life_reason else ""
                yield Happened(on=on, what=f"{words[Life(row.life)]}{why}", who=who)
            if (before.longitude, before.latitude) != (row.longitude, row.latitude):
                yield Happened(on=on, what=_("Its place on the map was set right"), who=who)
            if before.species_sure != row.species_sure:
                sure = row.get_species_sure_display()
                yield Happened(on=on, what=_("Species: %(sure)s") % {"sure": sure}, who=who)
        before = row


def _look(look: TreeObservation) -> Happened:
    what = _("A look: %(note)s") % {"note": look.note} if look.note else _("A look")
    return Happened(on=look.date, what=what, who=str(look.by))


def _check(tree: Tree, check: HealthCheck) -> Happened:
    return Happened(
        on=check.date,
        what=_("Health check: %(verdict)s") % {"verdict": check.get_verdict_display()},
        who=str(check.checker),
        url=reverse("tree-check-result", args=[tree.code, check.pk]),
    )


def _taps(taps: list[Tap]) -> Iterable[Happened]:
    for tap in taps:
        url = reverse("tap", args=[tap.pk])
        yield Happened(on=timezone.localdate(tap.placed_at), what=_("Tapped"), who=str(tap.by), url=url)
        if tap.out_at:
            what = _("Spout lost: %(why)s") % {"why": tap.out_reason} if tap.state == "lost" else _("Spout pulled")
            yield Happened(on=timezone.localdate(tap.out_at), what=what, url=url)


def _given(tree: Tree) -> Iterable[Happened]:
    rows = Assignment.objects.filter(tree=tree).select_related("group", "person", "given_by", "season")
    for row in rows:
        whom = f"{row.person}, {row.group}" if row.person else str(row.group)
        what = _("Given to %(whom)s for %(year)d") % {"whom": whom, "year": row.season.year}
        if row.state == AssignmentState.ENDED:
            what += ", " + _("taken back since")
        yield Happened(on=timezone.localdate(row.given_at), what=what, who=str(row.given_by))


def _slips(slips: list[Permission], *, linked: bool) -> Iterable[Happened]:
    """What became of each slip that names the tree: asked, granted, refused, taken back. Owners are not named here."""
    known = {str(slip.pk): slip for slip in slips}
    events = AuditEvent.objects.filter(
        subject_kind=Permission._meta.label_lower, subject_id__in=known, act__in=SLIP_ACTS
    ).select_related("by")
    for event in events:
        slip = known[event.subject_id]
        yield Happened(
            on=timezone.localdate(event.at),
            what=_("Permission %(number)s: %(act)s") % {"number": slip.label, "act": SLIP_ACTS[event.act]},
            who=event.by.display_name if event.by else "",
            url=reverse("permission", args=[slip.number]) if linked else "",
        )
