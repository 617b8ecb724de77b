"""Who has said yes to the house rules, and whose yes is asked for. Only reading; the acts stand in rules.py."""

from __future__ import annotations

import datetime as dt
import time
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.volunteers.models import Credential, CredentialKind, HouseRules, Person

KEPT_FOR_S = 30.0


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Which yes is wanted. latest: the version shown now.  wanted: the least that is no longer asked about.

    needed: the least that counts for an act today; 0 where nothing is needed yet.
    """

    latest: int
    wanted: int
    needed: int


def asked(on: dt.date | None = None) -> Asked | None:
    """What is asked for on a day (today); None while nothing is published. One query."""
    on = on or timezone.localdate()
    rows = list(HouseRules.objects.order_by("-number").values_list("number", "asks_anew", "needed_from"))
    if not rows:
        return None
    anew = [(number, day) for number, asks, day in rows if asks or number == 1]
    return Asked(
        latest=rows[0][0],
        wanted=anew[0][0],
        needed=next((number for number, day in anew if day <= on), 0),
    )


def number_of(version: str) -> int:
    """The number a recorded yes names; 0 for a paper of another kind.

    >>> number_of("3"), number_of(" 12 "), number_of("spring paper"), number_of("")
    (3, 12, 0, 0)
    """
    version = version.strip()
    return int(version) if version.isascii() and version.isdigit() and len(version) < 9 else 0


def yes_of(person: Person, on: dt.date | None = None) -> int:
    """The newest version this person's yes counts for on the day; 0 for none. One query."""
    held = person.credentials.filter(kind=CredentialKind.WAIVER).live(on or timezone.localdate())
    return max((number_of(version) for version in held.values_list("version", flat=True)), default=0)


def why_missing(person: Person, on: dt.date | None = None) -> str:
    """The sentence that says which yes is missing for an act that needs one; empty where none is."""
    wanted = asked()
    if wanted is None or wanted.needed == 0 or yes_of(person, on) >= wanted.needed:
        return ""
    said = _("This needs a yes to the house rules, version %(n)d. Open them from your own page, read them, say yes.")
    return said % {"n": wanted.latest}


def without_yes(people: QuerySet[Person], wanted: int) -> QuerySet[Person]:
    """Those of them whose yes, today, is older than the version wanted, or missing."""
    numbers = HouseRules.objects.filter(number__gte=wanted).values_list("number", flat=True)
    held = Credential.objects.live(timezone.localdate()).filter(kind=CredentialKind.WAIVER)
    held = held.filter(version__in=[str(number) for number in numbers])
    return people.exclude(pk__in=held.values("person"))


# What every page asks: is anything published at all? Kept in the process for a moment, so that a usual page of a
# programme without house rules asks the database nothing. No act relies on it.
_kept: tuple[float, int] | None = None


def keep(wanted: int) -> None:
    """Remember the version asked for, from now on for a moment."""
    global _kept
    _kept = (time.monotonic(), wanted)


def to_ask(person: Person) -> int:
    """The version this person should be asked about on the page they are opening; 0 for none."""
    if _kept is None or time.monotonic() - _kept[0] > KEPT_FOR_S:
        found = asked()
        keep(found.wanted if found else 0)
    wanted = _kept[1] if _kept else 0
    return wanted if wanted and yes_of(person) < wanted else 0
