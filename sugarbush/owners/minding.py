"""What somebody should mind about a slip: true, worth a second look, and no reason to refuse it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.owners.models import Capacity, Owner, OwnerKind, Permission, TreeOwner
from sugarbush.owners.queries import live_besides
from sugarbush.trees.models import Land, Life, Tree

NAMED_AT_MOST = 8


@dataclass(frozen=True, kw_only=True)
class Mind:
    """code: short and stable. sentence: what to mind. yes: the words with which a person lets it stand."""

    code: str
    sentence: str
    yes: str


def tags(codes: Sequence[str]) -> str:
    """Tags in a sentence: all of a few, the first of many."""
    if len(codes) <= NAMED_AT_MOST:
        return ", ".join(codes)
    more = len(codes) - NAMED_AT_MOST
    named = ", ".join(codes[:NAMED_AT_MOST])
    return ngettext("%(named)s and %(more)d more", "%(named)s and %(more)d more", more) % {"named": named, "more": more}


def minds(
    *,
    trees: Sequence[Tree],
    capacity: str,
    owner_kind: str,
    owner: Owner | None,
    on: dt.date,
    slip: Permission | None = None,
    names: bool = True,
) -> list[Mind]:
    """Everything to mind about a yes of this owner to these trees. names=False leaves owners’ and slips’ names out."""
    found = []
    public = [tree.code for tree in trees if tree.land == Land.PUBLIC]
    if public and owner_kind != OwnerKind.PUBLIC:
        found.append(
            Mind(
                code="city-tree",
                sentence=ngettext(
                    "City tree: %(trees)s needs the public body’s permit; a resident’s yes is not enough.",
                    "City trees: %(trees)s need the public body’s permit; a resident’s yes is not enough.",
                    len(public),
                )
                % {"trees": tags(public)},
                yes=_("Keep this slip all the same"),
            )
        )
    if capacity == Capacity.OCCUPANT:
        found.append(
            Mind(
                code="occupant",
                sentence=_("Whoever lives there but does not own the tree cannot say yes. The owner has to."),
                yes=_("Keep it, it does not count as a yes"),
            )
        )
    gone = [tree.code for tree in trees if tree.life in {Life.FELLED, Life.EXCLUDED}]
    if gone:
        found.append(
            Mind(
                code="gone",
                sentence=_("Felled, or set aside as not for tapping: %(trees)s.") % {"trees": tags(gone)},
                yes=_("Ask for them all the same"),
            )
        )
    if names:
        found += _other_slips(trees, on, slip) + _other_owners(trees, owner)
    return found


def _other_slips(trees: Sequence[Tree], on: dt.date, slip: Permission | None) -> list[Mind]:
    live: dict[Permission, list[str]] = {}
    for code, other in live_besides([tree.pk for tree in trees], on, without=slip.pk if slip else None):
        live.setdefault(other, []).append(code)
    return [
        Mind(
            code=f"live-{other.pk}",
            sentence=_("%(number)s of %(owner)s covers %(trees)s until %(day)s.")
            % {
                "number": other.label,
                "owner": other.owner.name,
                "trees": tags(codes),
                "day": date_format(other.date_to, "j F Y") if other.date_to else "",
            },
            yes=_("A further slip is meant"),
        )
        for other, codes in live.items()
    ]


def _other_owners(trees: Sequence[Tree], owner: Owner | None) -> list[Mind]:
    rows = TreeOwner.objects.filter(tree__in=[tree.pk for tree in trees if tree.land != Land.PUBLIC])
    if owner is not None:
        rows = rows.exclude(tree__owned_by__owner=owner)
    by_name: dict[str, list[str]] = {}
    for name, code in rows.order_by("owner__name", "tree__code").values_list("owner__name", "tree__code"):
        by_name.setdefault(name, []).append(code)
    return [
        Mind(
            code=f"owner-{codes[0]}",
            sentence=_("%(trees)s is written down as %(owner)s’s. With a second owner, both have to say yes.")
            % {"trees": tags(codes), "owner": name},
            yes=_("It belongs to both"),
        )
        for name, codes in by_name.items()
    ]
