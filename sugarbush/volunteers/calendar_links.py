"""The private address of a calendar: making it, showing it again, another in its place, taking it away.

The token is 256 bits of an HMAC of the link's own seed with the signing key, as with the cards to join by; what is kept
to find it by is a hash. With another signing key old addresses open nothing, and the page says so.
"""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac

from sugarbush.audit.models import record
from sugarbush.volunteers.models import CalendarLink, Person
from sugarbush.volunteers.signing import hash_of


def token_of(link: CalendarLink) -> str:
    """The secret part of the address. Only its own person's page shows it."""
    return salted_hmac("sugarbush.calendar.token", link.seed, algorithm="sha256").hexdigest()


def opens(link: CalendarLink) -> bool:
    """Whether the signing key is still the one the address was made with."""
    return hash_of(token_of(link)) == link.token_hash


def link_of(person: Person) -> CalendarLink | None:
    """The person's address, if they have one."""
    return CalendarLink.objects.filter(person=person, withdrawn_at=None).first()


@transaction.atomic
def make(*, person: Person, anew: bool = False) -> CalendarLink:
    """The person's address: the one there is, or with `anew` another, after which the old one opens nothing."""
    Person.objects.select_for_update().get(pk=person.pk)  # of two presses at once the second finds the first's
    there = link_of(person)
    if there is not None and not anew:
        return there
    if there is not None:
        _withdraw(there)
    link = CalendarLink(person=person)
    link.token_hash = hash_of(token_of(link))
    link.save()
    record(by=person, act="make calendar address", subject=person, new={"replaced": there is not None})
    return link


@transaction.atomic
def withdraw(*, person: Person) -> bool:
    """Let the address open nothing any more. False where there was none."""
    Person.objects.select_for_update().get(pk=person.pk)
    there = link_of(person)
    if there is None:
        return False
    _withdraw(there)
    record(by=person, act="withdraw calendar address", subject=person)
    return True


def close(person: Person) -> None:
    """Let the address open nothing any more, whoever takes it away."""
    CalendarLink.objects.filter(person=person, withdrawn_at=None).update(withdrawn_at=timezone.now())


def _withdraw(link: CalendarLink) -> None:
    link.withdrawn_at = timezone.now()
    link.save(update_fields=["withdrawn_at"])


def person_for(token: str) -> Person | None:
    """Whose calendar a token opens. Unknown, withdrawn, or of somebody who has left: None."""
    rows = CalendarLink.objects.filter(token_hash=hash_of(token), withdrawn_at=None, person__is_active=True)
    link = rows.select_related("person").first()
    return link.person if link is not None else None
