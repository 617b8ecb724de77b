"""Tags for trees, on sheets of labels. Only a tree somebody has said yes to gets one: the tag says so."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.owners.models import Capacity, Permission, PermissionState, PermissionTree
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.papers.labels import layout_named
from sugarbush.papers.models import Document, LabelUse, PrintedTag
from sugarbush.papers.numbers import digest_of
from sugarbush.papers.squares import square_drawn
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Assignment, AssignmentState
from sugarbush.trees.models import Tree
from sugarbush.trees.queries import trees_for
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

ACT = "assign"
MISSING, ALL, THESE = "missing", "all", "these"
MOST_NAMED = 12
MOST = 2_000
"""So many tags at once keep the pressroom below what it may hold."""


def with_a_yes(trees: QuerySet[Tree], on: dt.date) -> QuerySet[Tree]:
    """Those of the trees that a slip with a yes names which is not over."""
    slips = Permission.objects.filter(state=PermissionState.GRANTED, date_to__gte=on).exclude(
        capacity=Capacity.OCCUPANT
    )
    return trees.filter(Exists(PermissionTree.objects.filter(tree=OuterRef("pk"), permission__in=slips)))


def trees_without_tag(person: Person, season: Season | None, on: dt.date) -> QuerySet[Tree]:
    """Trees given out this season with a yes, in the person's reach, whose tag was not printed for it yet."""
    reach = access.scope(person, ACT)
    given = Assignment.objects.filter(tree=OuterRef("pk"), season=season).exclude(state=AssignmentState.ENDED)
    printed = PrintedTag.objects.filter(tree=OuterRef("pk"), season=season)
    trees = trees_for(person).filter(reach.filter("group")).filter(Exists(given), ~Exists(printed))
    return with_a_yes(trees, on).order_by("group_id", "address", "code")


def chosen(asked: Asked) -> QuerySet[Tree]:
    """The trees asked for, in the order in which they are printed."""
    access.require(asked.person, ACT, anywhere=True)
    which, season = asked.choices.get("which", MISSING), Season.current()
    if which == THESE:
        codes = list(asked.choices.get("codes", []))
        reach = access.scope(asked.person, ACT)
        trees = trees_for(asked.person).filter(reach.filter("group"), code__in=codes)
        return trees.order_by("code")
    trees = trees_without_tag(asked.person, season, asked.on)
    if which == ALL:
        given = Assignment.objects.filter(tree=OuterRef("pk"), season=season).exclude(state=AssignmentState.ENDED)
        reach = access.scope(asked.person, ACT)
        trees = with_a_yes(trees_for(asked.person).filter(reach.filter("group")).filter(Exists(given)), asked.on)
    group = asked.choices.get("group")
    return (trees.filter(group_id=int(group)) if group else trees).order_by("group_id", "address", "code")


def gather(asked: Asked) -> Sequence[Part]:
    layout = layout_named(str(asked.choices.get("layout", "")), LabelUse.TAG)
    found = list(chosen(asked).values_list("pk", "code")[: MOST + 1])
    if len(found) > MOST:
        fact = _("More than %(most)d tags at once cannot be printed. Print them group by group.") % {"most": MOST}
        raise Refused([Reason(code="many", fact=fact)])
    days = _days([pk for pk, _code in found], asked.on)
    _refuse_unsaid(asked, found, days)
    labels = []
    for n, (pk, code) in enumerate(found, start=1):
        labels.append(_tag(asked, code, days[pk]))
        if n % 50 == 0:
            asked.progress(n, len(found))
    asked.progress(len(found), len(found))
    content: dict[str, Any] = {
        "layout": layout.as_data(),
        "labels": labels,
        "call": _("%(programme)s: %(phone)s") % {"programme": asked.programme.name, "phone": asked.programme.phone}
        if asked.programme.phone
        else asked.programme.name,
    }
    subject = digest_of([sorted(pk for pk, _code in found), layout.key])[:24]
    title = ngettext("%(n)d tag", "%(n)d tags", len(found)) % {"n": len(found)}
    return [Part(subject=f"tags:{subject}", title=title, content=content)]


def _refuse_unsaid(asked: Asked, found: Sequence[tuple[int, str]], days: dict[int, tuple[dt.date, dt.date]]) -> None:
    """Tags typed by hand that cannot be printed are named; nothing is printed with some of them left out unseen."""
    codes = {code for _pk, code in found}
    unknown = [code for code in asked.choices.get("codes", []) if code not in codes]
    reasons = []
    if asked.choices.get("which") == THESE and unknown:
        reasons.append(
            Reason(
                code="unknown",
                fact=_("No tree of yours has the tag %(codes)s.") % {"codes": ", ".join(unknown[:MOST_NAMED])},
            )
        )
    unsaid = [code for pk, code in found if pk not in days]
    if unsaid:
        reasons.append(
            Reason(
                code="no-yes",
                fact=_("Nobody has said yes for %(codes)s yet. A tag says that somebody has.")
                % {"codes": ", ".join(unsaid[:MOST_NAMED])},
            )
        )
    if not found and not reasons:
        reasons.append(
            Reason(code="none", fact=_("There is no tag to print: every tree given out that has a yes has its tag."))
        )
    if reasons:
        raise Refused(reasons)


def _days(tree_ids: Sequence[int], on: dt.date) -> dict[int, tuple[dt.date, dt.date]]:
    """From when to when each tree's slips say yes: where two have to, the days both do. A fixed number of queries."""
    found: dict[int, tuple[dt.date, dt.date]] = {}
    for at in range(0, len(tree_ids), 500):
        lines = PermissionTree.objects.filter(
            tree__in=tree_ids[at : at + 500], permission__state=PermissionState.GRANTED, permission__date_to__gte=on
        ).exclude(permission__capacity=Capacity.OCCUPANT)
        by_owner: dict[int, dict[int, tuple[dt.date, dt.date]]] = {}
        rows = lines.order_by("permission__date_to").values_list(
            "tree_id", "permission__owner_id", "permission__date_from", "permission__date_to"
        )
        for tree, owner, first, last in rows:
            if first is not None and last is not None:  # a yes has its days; the database holds it
                by_owner.setdefault(tree, {})[owner] = (first, last)
        for tree, said in by_owner.items():
            start, end = max(day for day, _end in said.values()), min(day for _start, day in said.values())
            if start <= end:
                found[tree] = (start, end)
    return found


def _tag(asked: Asked, code: str, days: tuple[dt.date, dt.date]) -> dict[str, Any]:
    return {
        "code": code,
        "square": square_drawn(asked.address(reverse("tag", args=[code])), quick=True),
        "tapped": _("This tree is tapped with permission from %(start)s to %(end)s.")
        % {"start": date_format(days[0], "j F Y"), "end": date_format(days[1], "j F Y")},
        "water": _("Not drinking water."),
    }


def keep(asked: Asked, part: Part, document: Document) -> None:
    """These trees have their tag now."""
    season = Season.current()
    if season is None:
        return
    codes = [one["code"] for one in part.content["labels"]]
    for at in range(0, len(codes), 500):
        rows = Tree.objects.filter(code__in=codes[at : at + 500]).values_list("pk", flat=True)
        PrintedTag.objects.bulk_create(
            [PrintedTag(tree_id=pk, season=season, document=document) for pk in rows], ignore_conflicts=True
        )


TAGS = register(
    Kind(
        key="tags",
        label=gettext_lazy("Tags for trees"),
        layout="tags.typ",
        version="1",
        gather=gather,
        size=lambda asked: chosen(asked).count(),
        long_above=160,
        may=lambda asked: access.require(asked.person, ACT, anywhere=True),
        after=keep,
        form="TagsForm",
        note=gettext_lazy(
            "Print them on weatherproof sheets of labels or card. The tag is read from two metres; its square opens "
            "the tree for those who help, and a word about it for everybody else."
        ),
    )
)
