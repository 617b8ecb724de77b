"""Whom a message may go to: plain filters, each registered under a code by the app that knows the answer.

Apps above this one register theirs in `AppConfig.ready()`: `audiences.register(Audience(code="runs", ...))`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sugarbush.notices.models import To
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Person

if TYPE_CHECKING:
    from django.db.models import QuerySet
    from django_stubs_ext import StrOrPromise


@dataclass(frozen=True, kw_only=True)
class Narrowed:
    """How an audience is narrowed. group: None is the whole programme.  days: a number of days."""

    group: Group | None = None
    role: str = ""
    on: dt.date | None = None
    days: int | None = None


@dataclass(frozen=True, kw_only=True)
class Audience:
    """One way to choose people or owners.

    needs: the act whose holders may write to them; its reach holds too. asks: the names of Narrowed's fields it reads
    besides the group. find: the rows, of Person or Owner, whoever of them may be written to in the end.
    whole: it belongs to no group, so that its `needs` for the whole programme is asked, and no group chosen.
    see: the act whose holders may read what was sent to them, where that is another than `needs`.
    days_label: what the question for days is called where it is asked.
    """

    code: str
    label: StrOrPromise
    to: To
    needs: str
    find: Callable[[Narrowed], QuerySet[Any]]
    asks: tuple[str, ...] = ()
    whole: bool = False
    see: str = ""
    days_label: StrOrPromise = ""


_FOUND: dict[str, Audience] = {}


def register(audience: Audience) -> None:
    """Add an audience. A code has one; a second is a mistake in the code."""
    if _FOUND.get(audience.code, audience) != audience:
        raise ValueError(f"{audience.code!r} is registered already")
    _FOUND[audience.code] = audience


def named(code: str) -> Audience | None:
    return _FOUND.get(code)


def open_to(person: Person, act: str = "notices.write") -> list[Audience]:
    """The audiences a person may write to (or, with another act, read of), in the order they were registered."""
    if not access.holds(person, act):
        return []
    return [one for one in _FOUND.values() if _reaches(person, one, act)]


def groups_open(person: Person, audience: Audience, act: str = "notices.write") -> access.Scope:
    """Where the person's right to the act and to the audience both reach."""
    needs = (audience.see if act == "notices.see" else "") or audience.needs
    mine, theirs = access.scope(person, act), access.scope(person, needs)
    if mine.everything or theirs.everything:
        narrow = theirs if mine.everything else mine
        return access.Scope(mine.everything and theirs.everything, narrow.group_ids)
    return access.Scope(False, mine.group_ids & theirs.group_ids)


def _reaches(person: Person, audience: Audience, act: str) -> bool:
    reach = groups_open(person, audience, act)
    return reach.everything or (bool(reach.group_ids) and not audience.whole)


def may(person: Person, audience_code: str, group_id: int | None, act: str) -> bool:
    """Whether the act on a message to this audience within this group (None: everywhere) is open to the person.

    A message of the whole programme is nobody's but those who reach all of it: unlike with trees, "no group" is more
    than every group, not less.
    """
    audience = named(audience_code)
    if audience is None:
        return access.scope(person, act).everything
    reach = groups_open(person, audience, act)
    return reach.everything or (group_id is not None and group_id in reach.group_ids)
