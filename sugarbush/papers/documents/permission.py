"""The permission form: what an owner reads, signs and keeps, filled in from the slip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.owners import consent, links
from sugarbush.owners.models import Permission, PermissionState, ShareWish
from sugarbush.owners.queries import find_permission
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.papers.squares import square_drawn
from sugarbush.parts.uploads import small_image
from sugarbush.trees.models import Tree, TreeObservation
from sugarbush.trees.queries import trees_for

ON_THE_FORM = 8
"""Trees that fit on the page itself; with more, all stand on a list behind it."""
PICTURED = 4
PHOTO_PX = 200
GAP = "______________"


def slips_asked(asked: Asked) -> list[Permission]:
    """The slips in choices["numbers"]. Whoever prints a form sees every tree of it, so they have to see every one."""
    slips = [find_permission(asked.person, number) for number in asked.choices.get("numbers", [])]
    if not slips:
        raise Http404
    for slip in slips:
        if slip.trees.filter(merged_into=None).exclude(pk__in=trees_for(asked.person).values("pk")).exists():
            raise PermissionDenied(_("This slip also names trees of other groups. Ask a coordinator to print it."))
    return slips


def may(asked: Asked) -> None:
    """Refuses whom the slips, or with choices["links"] the owners' links, are not for."""
    for slip in slips_asked(asked):
        if asked.choices.get("links"):
            links.require_link(asked.person, slip.owner)


def gather(asked: Asked) -> Sequence[Part]:
    """A part for each slip."""
    return [_part(asked, slip) for slip in slips_asked(asked)]


def with_links(asked: Asked, parts: Sequence[Part]) -> Sequence[Part]:
    """With choices["links"] each owner gets a new private link as the square; it ends the link before."""
    if not asked.choices.get("links"):
        return parts
    addresses: dict[int, str] = {}
    made = []
    for slip, part in zip(slips_asked(asked), parts, strict=True):
        if slip.owner_id not in addresses:
            token = links.make_link(owner=slip.owner, by=asked.person, good_to=links.usual_last_day(asked.on))
            addresses[slip.owner_id] = asked.address(reverse("owner-link", args=[token]))
        words = {**part.content["words"], "square": _("Your own page: answer there, or see what hangs on your trees.")}
        stop = f"{part.content['stop']} {_('Or I press “stop” on my page, which the square opens.')}"
        content = {**part.content, "square": square_drawn(addresses[slip.owner_id]), "words": words, "stop": stop}
        made.append(replace(part, content=content))
    return made


def _part(asked: Asked, slip: Permission) -> Part:
    wording = consent.wording_of(slip, programme=asked.programme.name, units=asked.units)
    days = consent.days_of(slip)
    sentences = list(wording.sentences)
    if days is None:
        gaps = {"programme": asked.programme.name, "start": GAP, "end": GAP}
        sentences = [str(sentence) % gaps for sentence in consent.SENTENCES]
    trees = list(slip.trees.select_related("species").order_by("code"))
    pictures = _pictures(slip, trees) if len(trees) <= PICTURED else {}
    rows = [_row(tree, slip, pictures) for tree in trees]
    content: dict[str, Any] = {
        "number": slip.number,
        "owner": slip.owner.name,
        "days": _days(days),
        "trees": rows[:ON_THE_FORM] if len(rows) <= ON_THE_FORM else rows[: ON_THE_FORM - 1],
        "more_trees": rows if len(rows) > ON_THE_FORM else [],
        "sentences": sentences,
        "limits": list(wording.limits),
        "wishes": [
            {"words": str(wish.label), "on": _said(slip) and slip.share_wish == wish.value} for wish in ShareWish
        ],
        "stop": _stop_words(asked.programme.phone),
        "kept": _kept_words(asked, slip, trees, days),
        "square": square_drawn(asked.address(reverse("paper-slip", args=[slip.number]))),
        "words": _words(slip, len(trees), wording.version),
    }
    return Part(
        subject=f"permission:{slip.pk}",
        title=_("Permission form %(number)s") % {"number": slip.number},
        content=content,
        wording="\n".join([wording.text.split("\n", 1)[0], *sentences, *wording.limits]),
        wording_version=wording.version,
        pictures={f"photo-{slip.pk}-{pk}.jpg": kept for pk, kept in pictures.items()},
    )


def _said(slip: Permission) -> bool:
    return slip.state in {PermissionState.GRANTED, PermissionState.SUSPENDED}


def _days(days: tuple[Any, Any] | None) -> str:
    if days is None:
        return _("from %(start)s until %(end)s") % {"start": GAP, "end": GAP}
    return _("from %(start)s until %(end)s") % {
        "start": date_format(days[0], "j F Y"),
        "end": date_format(days[1], "j F Y"),
    }


def _pictures(slip: Permission, trees: Sequence[Tree]) -> dict[int, bytes]:
    """The newest photo of each tree that has one, small. One query."""
    found: dict[int, bytes] = {}
    looks = TreeObservation.objects.filter(tree__in=trees).exclude(photo="").order_by("-date", "-pk")
    for look in looks:
        if look.tree_id not in found:
            try:
                found[look.tree_id] = small_image(look.photo, PHOTO_PX)
            except Http404:
                continue  # the file is gone; the form is good without it
    return found


def _row(tree: Tree, slip: Permission, pictures: dict[int, bytes]) -> dict[str, Any]:
    if slip.most_taps is None:
        taps = _("1, or 2 on a wide trunk")
    else:
        taps = ngettext("at most %(n)d", "at most %(n)d", slip.most_taps) % {"n": slip.most_taps}
    return {
        "code": tree.code,
        "place": tree.place or _("no address"),
        "kind": tree.species.common if tree.species else _("species not known"),
        "taps": taps,
        "photo": f"photo-{slip.pk}-{tree.pk}.jpg" if tree.pk in pictures else None,
    }


def _stop_words(phone: str) -> str:
    if phone:
        return _("I call %(phone)s, at any time and without a reason.") % {"phone": phone}
    return _("I say so to anybody of the programme, at any time and without a reason.")


def _kept_words(asked: Asked, slip: Permission, trees: Sequence[Tree], days: tuple[Any, Any] | None) -> str:
    codes = ", ".join(tree.code for tree in trees[:12])
    if len(trees) > 12:
        codes += ", " + _("and %(n)d more") % {"n": len(trees) - 12}
    return _("%(programme)s asked to tap %(trees)s, %(days)s. No hole is drilled without my yes.") % {
        "programme": asked.programme.name,
        "trees": codes,
        "days": _days(days),
    }


def _words(slip: Permission, count: int, version: str) -> dict[str, Any]:
    return {
        "title": _("May we tap your maple?") if count == 1 else _("May we tap your maples?"),
        "slip": _("Slip"),
        "to": _("Owner"),
        "days": _("Days"),
        "square": _("What this slip is, and how to answer."),
        "tag": _("Tag"),
        "where": _("Where it stands"),
        "kind": _("Kind"),
        "taps": _("Spouts"),
        "more": ngettext(
            "All %(n)d trees are on the list behind this page, which belongs to this slip.",
            "All %(n)d trees are on the list behind this page, which belongs to this slip.",
            count,
        )
        % {"n": count},
        "all_trees": _("All trees of slip %(number)s") % {"number": slip.number},
        "i_agree": _("What I say yes to"),
        "limits": _("Limits and conditions"),
        "limits_behind": _("They are on the page behind this one, which belongs to this slip."),
        "limits_title": _("Limits and conditions of slip %(number)s") % {"number": slip.number},
        "treated": _("Was any of these trees ever given insecticide inside it?"),
        "treated_answers": [_("No"), _("Yes, in the year ______"), _("I do not know")],
        "treated_why": _("Injected into the trunk or poured at its root. Then we do not tap it."),
        "wish": _("What I wish for my share"),
        "name": _("Name"),
        "day": _("Day"),
        "signature": _("Signature"),
        "i_am": _("I am"),
        "capacities": [_("the owner"), _("of the public body"), _("a tenant (owner’s consent enclosed)")],
        "stop_title": _("How I stop it:"),
        "tear": _("tear here and keep the lower part"),
        "keep": _("For you to keep"),
        "version": _("Words, version %(version)s. Slip %(number)s.") % {"version": version, "number": slip.number},
    }


PERMISSION = register(
    Kind(
        key="permission",
        label=gettext_lazy("Permission form"),
        layout="permission.typ",
        version="1",
        gather=gather,
        finish=with_links,
        may=may,
        size=lambda asked: len(asked.choices.get("numbers", [])),
        long_above=25,
        file_name="permission",
        form="PermissionForm",
        note=gettext_lazy(
            "One page each, with a part to tear off. A lost slip prints again with the same number; the signed one is "
            "found by it."
        ),
    )
)
