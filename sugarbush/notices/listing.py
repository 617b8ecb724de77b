"""Who gets a message and who does not: asked for the draft, at the press, and again for each one as it is sent."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils.translation import gettext_lazy as _

from sugarbush.notices import audiences, mailing
from sugarbush.notices.kinds import REMINDER
from sugarbush.notices.models import GOT_IT, NoMessages, Notice, Recipient, To, Way
from sugarbush.owners.models import Owner, Permission, PermissionState
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Membership, Person

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

NONE_WANTED, LEFT, SAID_NO, REMINDED, MOVED = "none-wanted", "left", "said-no", "reminded", "moved"
WHY: dict[str, StrOrPromise] = {
    NONE_WANTED: _("asked for no messages"),
    LEFT: _("has left, or holds no role today"),
    SAID_NO: _("took their permission back, or said no"),
    REMINDED: _("has had the one reminder"),
    MOVED: _("has another e-mail address than at the press"),
}
REMINDED_WITHIN = dt.timedelta(days=300)


@dataclass(frozen=True)
class Line:
    """One of those an audience holds. why: a code of WHY, or nothing for who gets the message."""

    pk: int
    name: str
    way: str
    address: str
    why: str

    @property
    def why_words(self) -> str:
        return str(WHY.get(self.why, self.why))


def narrowed_of(notice: Notice) -> audiences.Narrowed:
    """What is kept with the message, as the audience reads it."""
    kept: dict[str, Any] = notice.narrowed
    return audiences.Narrowed(
        group=notice.group if notice.group_id else None,
        role=str(kept.get("role") or ""),
        on=dt.date.fromisoformat(kept["on"]) if kept.get("on") else None,
        days=kept.get("days"),
    )


def lines(notice: Notice) -> list[Line]:
    """Everybody the audience holds today, by name, with whether they get it. One query, whatever their number."""
    audience = audiences.named(notice.audience)
    if audience is None:
        return []
    return judged(notice, audience.find(narrowed_of(notice)))


def judged(notice: Notice, rows: QuerySet[Any]) -> list[Line]:
    """These people or owners, by name, each with the first reason against a message to them."""
    by_mail = mailing.ready()
    asked = _people(rows) if notice.to == To.PEOPLE else _owners(rows, notice)
    found = []
    for pk, name, email, why in asked:
        way = Way.EMAIL if email and by_mail else Way.HAND
        found.append(Line(pk, name, way, email if way == Way.EMAIL else "", why))
    return found


def _people(rows: QuerySet[Person]) -> Iterable[tuple[int, str, str, str]]:
    held = Membership.objects.live(access.today()).filter(person=OuterRef("pk"))
    out = NoMessages.objects.filter(person=OuterRef("pk"), ended_at=None)
    asked = rows.annotate(is_out=Exists(out), is_in=Exists(held)).order_by("display_name", "pk")
    for pk, name, email, is_active, is_out, is_in in asked.values_list(
        "pk", "display_name", "email", "is_active", "is_out", "is_in"
    ):
        yield pk, name, email or "", LEFT if not (is_active and is_in) else NONE_WANTED if is_out else ""


def _owners(rows: QuerySet[Owner], notice: Notice) -> Iterable[tuple[int, str, str, str]]:
    """An owner who said no or stop, and whose yes stands for no tree, is never written to: not even to confirm it.

    What they asked for stands on their own page; a second letter after a stop would be one too many.
    """
    slips = Permission.objects.filter(owner=OuterRef("pk"))
    yes = Q(state=PermissionState.GRANTED, date_to__gte=access.today()) | Q(state=PermissionState.SUSPENDED)
    had = Recipient.objects.filter(owner=OuterRef("pk"), notice__kind=REMINDER, state__in=GOT_IT)
    if notice.sent_at:
        had = had.filter(at__gte=notice.sent_at - REMINDED_WITHIN)
    asked = rows.annotate(
        is_out=Exists(NoMessages.objects.filter(owner=OuterRef("pk"), ended_at=None)),
        said_no=Exists(slips.filter(state__in=(PermissionState.REVOKED, PermissionState.REFUSED))),
        says_yes=Exists(slips.filter(yes)),
        had_reminder=Exists(had.exclude(notice=notice)),
        email=F("contact__email"),
    ).order_by("name", "pk")
    for pk, name, email, is_out, said_no, says_yes, had_reminder in asked.values_list(
        "pk", "name", "email", "is_out", "said_no", "says_yes", "had_reminder"
    ):
        why = NONE_WANTED if is_out else SAID_NO if said_no and not says_yes else ""
        if not why and notice.kind == REMINDER and had_reminder:
            why = REMINDED
        yield pk, name, email or "", why


def mark(notice: Notice, found: Sequence[Line]) -> str:
    """A mark of the text and of exactly these recipients: the press sends what was looked at, or nothing."""
    told = [f"{notice.pk}:{notice.edition}"] + [f"{one.pk}{one.way}{one.address}{one.why}" for one in found]
    return hashlib.sha256("\n".join(told).encode()).hexdigest()[:32]


def out_now(notice: Notice, rows: Sequence[Recipient]) -> dict[int, str]:
    """Which of these recipients may not get the message any more: the recipient's number, and why. One query."""
    of_people = notice.to == To.PEOPLE
    whom = {(one.person_id if of_people else one.owner_id): one for one in rows}
    asked: QuerySet[Any] = (Person if of_people else Owner)._default_manager.filter(pk__in=list(whom))
    found = {}
    for line in judged(notice, asked):
        one = whom[line.pk]
        if line.why:
            found[one.pk] = line.why
        elif one.way == Way.EMAIL and line.address.casefold() != one.address.casefold():
            found[one.pk] = MOVED
    return found


def in_words(notice: Notice) -> str:
    """Whom the message goes to, in words."""
    audience = audiences.named(notice.audience)
    parts = [str(audience.label) if audience else notice.audience]
    kept = narrowed_of(notice)
    if kept.role:
        parts.append(str(access.LABELS.get(kept.role, kept.role)))
    if kept.on:
        from django.utils.formats import date_format

        parts.append(date_format(kept.on, "l j F"))
    if kept.days is not None:
        parts.append(str(_("%(n)d days") % {"n": kept.days}))
    group: Group | None = kept.group
    parts.append(group.name if group else str(_("whole programme")))
    return ", ".join(parts)
