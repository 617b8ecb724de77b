"""Who may do what: one table, filled by each app as it starts, asked by every view and action."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.volunteers.models import CredentialKind, Person, Role

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

Reach = Literal["all", "own"]
LABELS = dict(Role.choices)


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One act: which role may do it, in all groups or its own, and what it asks for besides."""

    act: str
    label: StrOrPromise
    reach: dict[str, Reach]
    credential: str = ""
    adult: bool = False
    waiver: bool = False
    note: StrOrPromise = ""

    @property
    def roles(self) -> Iterable[tuple[str, str]]:
        return [(str(LABELS[role]), reach) for role, reach in self.reach.items()]


@dataclass(frozen=True)
class Scope:
    """How far a person's right reaches: everything, or these groups and what has no group."""

    everything: bool
    group_ids: frozenset[int]

    def covers(self, group_id: int | None) -> bool:
        return self.everything or (bool(self.group_ids) and group_id is None) or group_id in self.group_ids

    def filter(self, path: str = "group") -> Q:
        """A filter for rows whose group lies in reach; rows without a group are open to any member."""
        if self.everything:
            return Q()
        if not self.group_ids:
            return Q(pk__in=[])
        return Q(**{f"{path}__in": self.group_ids}) | Q(**{f"{path}__isnull": True})


_TABLE: dict[str, Entry] = {}


def register(*entries: Entry) -> None:
    """Add acts to the table. An act has one entry; a second one is a mistake in the code."""
    for entry in entries:
        if entry.act in _TABLE and _TABLE[entry.act] != entry:
            raise ValueError(f"{entry.act!r} is in the table already")
        _TABLE[entry.act] = entry


def table() -> list[Entry]:
    return list(_TABLE.values())


def today() -> dt.date:
    return timezone.localdate()


def roles_of(person: Person, on: dt.date | None = None) -> list[tuple[str, int | None]]:
    """The person's (role, group id or None) pairs that are live on the day; read once per request."""
    on = on or today()
    kept: dict[dt.date, list[tuple[str, int | None]]] = person.__dict__.setdefault("_roles_kept", {})
    if on not in kept:
        kept[on] = list(person.memberships.live(on).values_list("role", "group_id")) if person.is_active else []
    return kept[on]


def forget_roles(person: Person) -> None:
    person.__dict__.pop("_roles_kept", None)


def scope(person: Person, act: str, on: dt.date | None = None) -> Scope:
    """How far the person's right to this act reaches. A person without it gets an empty scope."""
    entry = _TABLE[act]
    groups: set[int] = set()
    if not getattr(person, "is_authenticated", False):
        return Scope(False, frozenset())
    for role, group_id in roles_of(person, on):
        reach = entry.reach.get(role)
        if reach is None:
            continue
        # A role held in one group never reaches another group, whatever the table's column says.
        if group_id is None:
            return Scope(True, frozenset())
        groups.add(group_id)
    return Scope(False, frozenset(groups))


def roles_for(act: str) -> list[str]:
    """The roles that may do the act, somewhere."""
    return list(_TABLE[act].reach)


def holds(person: Person, act: str, on: dt.date | None = None) -> bool:
    """Whether the person may do the act anywhere at all."""
    reach = scope(person, act, on)
    return reach.everything or bool(reach.group_ids)


def why_not(
    person: Person, act: str, *, group_id: int | None = None, anywhere: bool = False, on: dt.date | None = None
) -> str:
    """The sentence that says why this person may not, or an empty string when they may."""
    entry, on = _TABLE[act], on or today()
    reach = scope(person, act, on)
    allowed = (reach.everything or reach.group_ids) if anywhere else reach.covers(group_id)
    if not allowed:
        roles = ", ".join(str(LABELS[role]) for role in entry.reach)
        return _("This needs another role: %(roles)s. Ask a coordinator.") % {"roles": roles}
    if entry.adult and not person.is_adult:
        return _("This is for adults. Ask an adult of your group to do it with you.")
    if entry.credential and person.credential_on(entry.credential, on) is None:
        kind = dict(CredentialKind.choices)[entry.credential]
        return _("This needs “%(kind)s” on your page. Ask a coordinator to record it.") % {"kind": kind}
    if entry.waiver:
        from sugarbush.volunteers import waivers  # reads what this module's own table is about

        return waivers.why_missing(person, on)
    return ""


def require(
    person: Person, act: str, *, group_id: int | None = None, anywhere: bool = False, on: dt.date | None = None
) -> None:
    """Refuse (403, with the sentence) unless the person may do the act here."""
    why = why_not(person, act, group_id=group_id, anywhere=anywhere, on=on)
    if why:
        raise PermissionDenied(why)


EVERYONE: dict[str, Reach] = dict.fromkeys(Role.values, "own")
EVERYONE[Role.COORDINATOR] = EVERYONE[Role.REVIEWER] = "all"
DESK: dict[str, Reach] = {Role.COORDINATOR: "all", Role.LEAD: "own"}
COORDINATOR: dict[str, Reach] = {Role.COORDINATOR: "all"}

register(
    Entry(act="people.see", label=gettext_lazy("see people of a group"), reach={**DESK, Role.REVIEWER: "all"}),
    Entry(act="people.change", label=gettext_lazy("add people, give roles"), reach=DESK),
    Entry(
        act="cards.make",
        label=gettext_lazy("make, print and withdraw cards to join by"),
        reach=DESK,
        note=gettext_lazy("Whoever joins by a card is a volunteer of the card’s group."),
    ),
    Entry(act="credential.grant", label=gettext_lazy("record a credential"), reach=COORDINATOR),
    Entry(
        act="person.data",
        label=gettext_lazy("take a person’s data as a file, take their name out when they ask"),
        reach=COORDINATOR,
        note=gettext_lazy("Everybody takes their own."),
    ),
    Entry(act="groups.change", label=gettext_lazy("make and change groups"), reach=COORDINATOR),
    Entry(act="rules.keep", label=gettext_lazy("publish the house rules, see whose yes is missing"), reach=COORDINATOR),
    Entry(
        act="be.booked",
        label=gettext_lazy("be put on a run of a round, or on a shift at the pan"),
        reach=EVERYONE,
        waiver=True,
        note=gettext_lazy(
            "Under 18: a guardian’s consent that somebody asked for, and two screened adults on the same one. "
            "A log from the field is never refused for want of a yes; the group lead sees that it is missing."
        ),
    ),
    Entry(
        act="audit.see", label=gettext_lazy("read the history"), reach={Role.COORDINATOR: "all", Role.REVIEWER: "all"}
    ),
)
