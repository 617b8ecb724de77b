"""Writing owners down, changing them, and how to reach them: each look at that is an act of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from sugarbush.audit.models import record, record_once_a_day
from sugarbush.owners.models import Owner, OwnerContact, OwnerKind
from sugarbush.parts.vcard import Card
from sugarbush.trees import shown
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import MovedOn, change, edition_of
from sugarbush.volunteers.models import Group, Person

REACH = ("phone", "email", "address", "note")
"""The columns of how to reach an owner. Their values never go into the history that reviewers read."""


def write_owner(
    *,
    by: Person,
    name: str,
    kind: str = OwnerKind.PERSON,
    group: Group | None = None,
    note: str = "",
    reach: Mapping[str, str] | None = None,
) -> Owner:
    """A new owner with what is known of how to reach them. The caller has asked for the right to do so."""
    owner = Owner(name=name.strip(), kind=kind, group=group, note=note)
    owner._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
    owner.save()
    OwnerContact.objects.create(owner=owner, **{key: value for key, value in (reach or {}).items() if key in REACH})
    record(by=by, act="add owner", subject=owner, new={"name": owner.name, "kind": owner.kind})
    return owner


@transaction.atomic
def add_owner(
    *,
    by: Person,
    name: str,
    kind: str,
    group: Group | None,
    note: str = "",
    reach: Mapping[str, str] | None = None,
) -> Owner:
    """Write an owner down. A lead does so for a group of their own."""
    _require_in(by, group)
    return write_owner(by=by, name=name, kind=kind, group=group, note=note, reach=reach)


def _require_in(by: Person, group: Group | None) -> None:
    if group is None and not access.scope(by, "owners.change").everything:
        access.require(by, "owners.change", group_id=-1)  # nobody's group: only the whole programme covers it
    access.require(by, "owners.change", group_id=group.pk if group else None)


@transaction.atomic
def change_owner(*, owner: Owner, by: Person, values: Mapping[str, Any], seen: str) -> Owner:
    """Change an owner. A person who turns out to be a public body changes what their trees may do.

    Raises MovedOn when somebody changed the owner meanwhile.
    """
    if values.get("group") != owner.group:
        _require_in(by, values.get("group"))
    kept = change(row=owner, by=by, values=values, seen=seen, act="change owner")
    if kept.kind != owner.kind:
        owned = Tree.objects.filter(owned_by__owner=owner).values_list("pk", flat=True)
        named = Tree.objects.filter(permission_lines__permission__owner=owner).values_list("pk", flat=True)
        shown.refresh({*owned, *named})
    return kept


@transaction.atomic
def see_contact(*, owner: Owner, by: Person) -> OwnerContact:
    """How to reach an owner. The look is written down, once a day. The view has found the owner for this person."""
    access.require(by, "contact.see", anywhere=True)
    contact, _made = OwnerContact.objects.get_or_create(owner=owner)
    record_once_a_day(by=by, act="see contact", subject=owner)
    return contact


@transaction.atomic
def cards_of(owners: Sequence[Owner], *, by: Person) -> list[Card]:
    """Address cards of those owners of whom something is known. Each is a look, written down once a day.

    The view has found the owners for this person.
    """
    access.require(by, "contact.see", anywhere=True)
    known = OwnerContact.objects.filter(owner__in=[owner.pk for owner in owners])
    contacts = {contact.owner_id: contact for contact in known}
    cards = []
    for owner in owners:
        contact = contacts.get(owner.pk)
        if contact is None or not (contact.phone or contact.email or contact.address):
            continue
        record_once_a_day(by=by, act="see contact", subject=owner)
        cards.append(
            Card(
                uid=f"owner-{owner.pk}@sugarbush.invalid",
                name=owner.name,
                email=contact.email,
                phone=contact.phone,
                address=contact.address,
                note=contact.note,
                is_body=owner.kind != OwnerKind.PERSON,
            )
        )
    return cards


@transaction.atomic
def change_contact(*, owner: Owner, by: Person, values: Mapping[str, str], seen: str) -> OwnerContact:
    """Change how to reach an owner; the history names the lines that changed, not what they hold.

    Raises MovedOn when somebody changed them meanwhile.
    """
    access.require(by, "contact.see", anywhere=True)
    OwnerContact.objects.get_or_create(owner=owner)
    contact = OwnerContact.objects.select_for_update().get(owner=owner)
    if seen != edition_of(contact, REACH):
        raise MovedOn(contact)
    changed = [name for name in REACH if getattr(contact, name) != values[name]]
    if changed:
        for name in changed:
            setattr(contact, name, values[name])
        contact._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
        contact.save()
        record(by=by, act="change contact", subject=owner, new={"changed": changed})
    return contact
