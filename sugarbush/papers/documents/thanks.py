"""Thanks to an owner: what their trees gave, what they get, and a receipt to sign."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from django.db.models import Q, Sum
from django.http import Http404
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.audit.models import record_once_a_day
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.lots.models import JarIssue
from sugarbush.lots.sizes import size_words
from sugarbush.owners.models import Owner, OwnerContact
from sugarbush.owners.queries import find_owner
from sugarbush.papers import blocks as b
from sugarbush.papers.documents.returns import season_asked
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.parts.wording import volume_words
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Tap
from sugarbush.trees.models import Tree
from sugarbush.trees.queries import trees_for


def owners_asked(asked: Asked) -> list[Owner]:
    """The owners in choices["owners"], each of whom the person may see; with their address only who may reach them."""
    act = "contact.see" if asked.choices.get("address") else ""
    keys = [int(key) for key in asked.choices.get("owners", []) if str(key).isdecimal() and len(str(key)) < 12]
    if not keys:
        raise Http404
    return [find_owner(asked.person, key, act) for key in keys]


def gather(asked: Asked) -> Sequence[Part]:
    season = season_asked(asked)
    return [_part(asked, owner, season) for owner in owners_asked(asked)]


def looked(asked: Asked, parts: Sequence[Part]) -> Sequence[Part]:
    """An address on paper is a look at it, as on its page."""
    if asked.choices.get("address"):
        for owner in owners_asked(asked):
            record_once_a_day(by=asked.person, act="see contact", subject=owner)
    return parts


def _part(asked: Asked, owner: Owner, season: Season) -> Part:
    near = trees_for(asked.person).filter(Q(owned_by__owner=owner) | Q(permissions__owner=owner)).distinct()
    trees = list(near.select_related("species").order_by("code"))
    taps = Counter(Tap.objects.filter(tree__in=trees, season=season).values_list("tree_id", flat=True))
    rows = Collection.objects.filter(tree__in=trees, season=season, state=CollectionState.COUNTED)
    sap = dict(rows.order_by().values_list("tree_id").annotate(ml=Sum("volume_ml")))
    jars: Counter[int] = Counter()
    for issue in JarIssue.objects.filter(owner=owner, lot__season=season):
        jars[issue.size_ml] += -issue.count if issue.returns_id else issue.count
    had = ", ".join(f"{n} × {size_words(size)}" for size, n in sorted(jars.items(), reverse=True) if n > 0)
    given = [tree for tree in trees if taps[tree.pk] or tree.pk in sap]
    made = [
        *_address(asked, owner),
        b.para(f"{asked.programme.place}, {date_format(asked.on, 'j F Y')}", soft=True),
        b.space(4),
        b.title(_("Thank you"), size=22),
        b.para(_said(asked, owner, given, sum(sap.values()), season), size=11.5),
        b.para(
            _("The holes close over by themselves in the years to come. If you notice anything there, please tell us.")
            if given
            else _("Your trees were left in peace this season. Thank you for being ready to share them."),
            size=11.5,
        ),
    ]
    if given:
        made.append(_table(asked, given, taps, sap))
    made += [b.space(8), b.para(asked.programme.name, size=11.5, bold=True), b.para(asked.programme.phone)]
    if had:
        made += [
            b.space(10),
            b.heading(_("Receipt")),
            b.para(
                _("Received with thanks from %(name)s: %(jars)s of maple syrup.")
                % {"name": asked.programme.name, "jars": had}
            ),
            b.columns([b.blank_lines(_("Signature"))], [b.blank_lines(_("Day"))]),
        ]
    return Part(subject=f"thanks:{owner.pk}:{season.year}", title=_("Thanks to an owner"), content={"blocks": made})


def _address(asked: Asked, owner: Owner) -> list[b.Block]:
    lines = [b.para(owner.name, bold=True)]
    contact = OwnerContact.objects.filter(owner=owner).first() if asked.choices.get("address") else None
    if contact is not None and contact.address.strip():
        lines += [b.para(line.strip()) for line in contact.address.replace(",", "\n").splitlines() if line.strip()]
    return [*lines, b.space(10)]


def _said(asked: Asked, owner: Owner, given: Sequence[Tree], sap_ml: int, season: Season) -> str:
    if not given:
        return _("In the season of %(year)d we asked, and you said yes.") % {"year": season.year}
    return ngettext(
        "In the season of %(year)d your tree gave %(sap)s of sap. Neighbours carried it to the pan and boiled it with "
        "the sap of the whole street. That was possible because you said yes.",
        "In the season of %(year)d your %(n)d trees gave %(sap)s of sap. Neighbours carried it to the pan and boiled "
        "it with the sap of the whole street. That was possible because you said yes.",
        len(given),
    ) % {"year": season.year, "n": len(given), "sap": volume_words(sap_ml, asked.units)}


def _table(asked: Asked, given: Sequence[Tree], taps: Counter[int], sap: dict[int, int]) -> b.Block:
    rows = [
        [
            tree.code,
            tree.place or _("no address"),
            tree.species.common if tree.species else _("not known"),
            str(taps[tree.pk]),
            volume_words(sap.get(tree.pk, 0), asked.units),
        ]
        for tree in given
    ]
    return b.table(
        [_("Tag"), _("Where"), _("Kind"), _("Taps"), _("Sap")],
        rows,
        widths=[0, 3, 1.5, 0, 0],
        align=["left", "left", "left", "right", "right"],
        code=0,
        total=[_("Together"), "", "", str(sum(taps.values())), volume_words(sum(sap.values()), asked.units)],
    )


THANKS = register(
    Kind(
        key="thanks",
        label=gettext_lazy("Thanks and receipts for owners"),
        layout="report.typ",
        version="1",
        gather=gather,
        finish=looked,
        may=owners_asked,
        long_above=40,
        size=lambda asked: len(asked.choices.get("owners", [])),
        form="ThanksForm",
        note=gettext_lazy("A letter each: what their trees gave, and a receipt for the jars they had."),
    )
)
