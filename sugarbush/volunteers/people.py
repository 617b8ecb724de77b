"""Finding people: whom a person may see, and whom they may look after."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from django.db.models import Prefetch, Q, QuerySet
from django.http import Http404
from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Membership, Person, Role

LEAD_GIVES = (Role.VOLUNTEER, Role.DEPOT_KEEPER)
"""The roles a group lead may give: none of them reaches further than the lead's own."""


def _lasting() -> Q:
    return Q(date_to=None) | Q(date_to__gte=access.today())


def within_sight(viewer: Person) -> QuerySet[Person]:
    """The people whose pages this person may open: all, or those of their own groups, and always themselves."""
    reach = access.scope(viewer, "people.see")
    if reach.everything:
        return Person.objects.all()
    held = Membership.objects.filter(_lasting(), group__in=reach.group_ids)
    return Person.objects.filter(Q(pk=viewer.pk) | Q(pk__in=held.values("person")))


def with_roles(people: QuerySet[Person]) -> QuerySet[Person]:
    """The same people with their lasting roles in `lasting_roles`, in one more query however many there are."""
    roles = Membership.objects.filter(_lasting()).select_related("group").order_by("role", "pk")
    return people.prefetch_related(Prefetch("memberships", roles, to_attr="lasting_roles"))


def find(viewer: Person, person_id: int) -> Person:
    """A person whose page the viewer may open; 404 otherwise."""
    person = with_roles(within_sight(viewer)).filter(pk=person_id).first()
    if person is None:
        raise Http404
    return person


def groups_within(viewer: Person, act: str = "people.change") -> QuerySet[Group]:
    """The groups in which the person may do the act."""
    reach = access.scope(viewer, act)
    return Group.objects.all() if reach.everything else Group.objects.filter(pk__in=reach.group_ids)


def why_not_manage(manager: Person, person: Person) -> str:
    """The sentence that says why the manager may not change this person, or nothing.

    A lead looks after people whose every role lies in the lead's groups and reaches no further than a lead gives:
    a sign-in link made for somebody is that person's key, so it must never open more than its maker holds.
    """
    reach = access.scope(manager, "people.change")
    if reach.everything:
        return ""
    held = list(Membership.objects.filter(_lasting(), person=person).values_list("role", "group_id"))
    fits = held and all(role in LEAD_GIVES and group_id in reach.group_ids for role, group_id in held)
    if reach.group_ids and fits:
        return ""
    return _("This page is looked after by a coordinator: the person holds a role beyond your group.")


def coordinators() -> QuerySet[Person]:
    """People who hold the whole programme today and can come in."""
    live = Membership.objects.live(access.today()).filter(role=Role.COORDINATOR, group=None)
    return Person.objects.filter(is_active=True, pk__in=live.values("person")).order_by("pk")


def only_coordinator(person: Person) -> list[Reason]:
    """The reason against taking the programme from its last coordinator, as a list of none or one.

    Locks the coordinators' roles, so it belongs in the act's transaction: of two who end each other at the same moment
    the second finds itself the last.
    """
    list(Membership.objects.select_for_update().filter(role=Role.COORDINATOR, group=None).values_list("pk"))
    if set(coordinators().values_list("pk", flat=True)) - {person.pk}:
        return []
    return [
        Reason(
            code="last-coordinator",
            fact=_("%(name)s is the only coordinator.") % {"name": person},
            detail=_("Without one nobody could open seasons or let people in."),
            next_text=_("Give another person the role first"),
        )
    ]


def is_alone(person: Person) -> bool:
    """Whether nobody else has joined yet, so that nobody else could vouch."""
    return not Person.objects.filter(is_active=True).exclude(pk=person.pk).exists()


def _as_read(name: str) -> str:
    """A name as an eye takes it: no capitals, no gaps but single ones, no signs that are not seen."""
    seen = (sign for sign in unicodedata.normalize("NFKC", name) if unicodedata.category(sign) != "Cf")
    return " ".join("".join(seen).split()).casefold()


def is_named(name: str, *, groups: Iterable[int], but: int = 0) -> bool:
    """Whether somebody of these groups, or of the whole programme, has this name, however it is written.

    groups: their keys.  but: the key of the person who asks, 0 for somebody new.
    """
    live = Membership.objects.live(access.today()).filter(Q(group=None) | Q(group__in=list(groups)))
    others = Person.objects.filter(is_active=True, pk__in=live.values("person")).exclude(pk=but)
    return _as_read(name) in map(_as_read, others.values_list("display_name", flat=True))
