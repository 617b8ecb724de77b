"""A person who outgrows their group: what opened doors for a volunteer opens none for whoever holds the programme.

A lead makes links for the people of the own group and writes down their e-mail addresses. So whatever lets somebody in
as such a person begins anew once they are given a role that reaches the whole programme.
"""

from __future__ import annotations

from collections.abc import Callable

from sugarbush.volunteers import calendar_links, signing
from sugarbush.volunteers.access import roles_of
from sugarbush.volunteers.models import Group, Person

_ways_in: list[Callable[[Person], object]] = []


def register(take_away: Callable[[Person], object]) -> None:
    """A later app’s way in for a person: `take_away` lets all of them open nothing any more."""
    if take_away not in _ways_in:
        _ways_in.append(take_away)


def outgrows(person: Person, group: Group | None, by: Person) -> bool:
    """Whether this role, given by somebody else, is the first of theirs that reaches beyond groups."""
    held = roles_of(person)
    return group is None and by.pk != person.pk and bool(held) and all(where is not None for _role, where in held)


def begin_anew(*, person: Person, by: Person) -> None:
    """Sign the person out everywhere, and let no passkey, calendar address or token of before open anything."""
    signing.end_sessions(person=person, by=by, reason="a role for the whole programme")
    person.passkeys.all().delete()
    calendar_links.close(person)
    for take_away in _ways_in:
        take_away(person)
