"""The lists of people, groups and cards as tables to take away: what their pages show, and no more."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

from sugarbush.parts.vcard import Card

if TYPE_CHECKING:
    from sugarbush.parts.csvfile import Cell
    from sugarbush.parts.sheets.columns import Column
    from sugarbush.volunteers.models import Group, Membership, Person


def _roles(person: Person) -> Cell:
    held = person.lasting_roles  # type: ignore[attr-defined]
    return "; ".join(f"{one.get_role_display()} ({one.group or _('whole programme')})" for one in held)


def people() -> list[Column]:
    return [
        (_("name"), "display_name"),
        (_("roles"), _roles),
        (_("age"), "get_age_band_display"),
        (_("in the programme"), "is_active"),
        (_("last came in"), "last_login"),
    ]


def _leads(group: Group) -> Cell:
    return ", ".join(str(one.person) for one in group.leads)  # type: ignore[attr-defined]


def groups() -> list[Column]:
    return [(_("group"), "name"), (_("leads"), _leads), (_("people"), "people")]


def _needs_consent(held: Membership) -> Cell:
    person = held.person
    return not person.is_adult and not person.consents  # type: ignore[attr-defined]


def members() -> list[Column]:
    """Of one group: each role held there today."""
    return [
        (_("name"), "person.display_name"),
        (_("role"), "get_role_display"),
        (_("from"), "date_from"),
        (_("to"), "date_to"),
        (_("age"), "person.get_age_band_display"),
        (_("guardian’s consent missing"), _needs_consent),
    ]


def member_cards(group: Group, held: Iterable[Membership]) -> Iterator[Card]:
    """An address card for each person of a group: name, roles there, e-mail. For those who see the group's people."""
    roles: dict[Person, list[str]] = {}
    for one in held:
        roles.setdefault(one.person, []).append(str(one.get_role_display()))
    for person, words in roles.items():
        yield Card(
            uid=f"urn:uuid:{person.key}",
            name=person.display_name,
            organisation=group.name,
            title=", ".join(words),
            email=person.email or "",
        )


def card_sheets() -> list[Column]:
    return [
        (_("made at"), "made_at"),
        (_("made by"), "made_by.display_name"),
        (_("cards"), "count"),
        (_("joined by them"), "joined"),
        (_("still open"), "left"),
        (_("opens from"), "good_from"),
        (_("opens until"), "good_to"),
        (_("in the group until"), "member_to"),
    ]


def cards() -> list[Column]:
    """Of one sheet. Never a code: those stand on the printed cards alone."""
    return [
        (_("card"), "card.number"),
        (_("state"), "word"),
        (_("people by this card"), "card.most"),
        (_("joined by it"), "card.used"),
        (_("who"), lambda row: ", ".join(str(one.person) for one in row["card"].people)),
    ]
