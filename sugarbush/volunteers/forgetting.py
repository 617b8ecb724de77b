"""A person who has left asks for their name to go. What they counted stays, under a number.

Later apps register what stands against it (sap still in hands) and which copies of the name they hold.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import AuditEvent, record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.models import CalendarLink, Credential, Device, Passkey, Person, SignInCode, SignInLink, Units

FORMER = "A former volunteer"
"""The name that stands instead, with the person's number. Not translated: the database compares it (shares 0003)."""

Against = Callable[[Person], list[Reason]]
Copy = Callable[[Person, frozenset[str]], None]
_against: list[Against] = []
_copies: list[Copy] = []


def register_against(ask: Against) -> None:
    """Have `ask(person)` say what has to be settled before the name may go."""
    if ask not in _against:
        _against.append(ask)


def register_copy(put_right: Copy) -> None:
    """Have `put_right(person, addresses)` called in the same transaction once the person bears the new name.

    addresses: every e-mail address the person has ever had here.
    """
    if put_right not in _copies:
        _copies.append(put_right)


def name_of(person_id: int) -> str:
    return f"{FORMER} {person_id}"


def is_forgotten(person: Person) -> bool:
    return person.display_name == name_of(person.pk)


def why_not(person: Person) -> list[Reason]:
    """What stands against the name going; an empty list is nothing."""
    if person.is_active:
        return [
            Reason(
                code="has-not-left",
                fact=_("%(name)s has not left.") % {"name": person},
                next_text=_("Let them leave first"),
            )
        ]
    return [reason for ask in _against for reason in ask(person)]


@transaction.atomic
def forget(*, person: Person, by: Person | None, reason: str) -> Person:
    """Put a number in the place of a person's name, and clear what else is only about them. Twice is once.

    Older versions of the same rows are cleared too. The counted litres, roles with their days, and the history stay;
    they hold the number. by: None for the programme itself, at night.  Raises Refused with every reason against it.
    """
    if by is not None:
        access.require(by, "person.data", anywhere=True)
    held = Person.objects.select_for_update().get(pk=person.pk)
    if is_forgotten(held):
        return held
    if reasons := why_not(held):
        raise Refused(reasons)
    cleared = {
        "display_name": name_of(held.pk),
        "email": None,
        "language": "en",
        "units": Units.METRIC,
        "carry_limit_g": Person._meta.get_field("carry_limit_g").get_default(),
        "age_band": Person._meta.get_field("age_band").get_default(),
    }
    had = {held.email, *Person.history.filter(id=held.pk).values_list("email", flat=True)}
    # Past the models' own saving, which would keep the name in one more older version.
    Person.objects.filter(pk=held.pk).update(**cleared, last_login=None)
    Person.history.filter(id=held.pk).update(**cleared)
    Credential.objects.filter(person=held).update(note="")
    Credential.history.filter(person_id=held.pk).update(note="")
    for ways in (SignInLink, SignInCode, Passkey):
        ways.objects.filter(person=held).delete()
    Device.objects.filter(person=held).delete()
    CalendarLink.objects.filter(person=held).delete()
    held.refresh_from_db()
    for put_right in _copies:
        put_right(held, frozenset(address for address in had if address))
    record(by=by, act="forget person", subject=held, reason=reason)
    return held


def forget_long_gone(*, years: int, now: dt.datetime | None = None) -> int:
    """Take out the names of those who left that many years ago; how many. Whom something holds back waits."""
    today = timezone.localdate(now)
    try:
        before = today.replace(year=today.year - years)
    except ValueError:  # 29 February
        before = today.replace(year=today.year - years, day=28)
    begins = timezone.make_aware(dt.datetime.combine(before, dt.time()))
    count = 0
    for person in Person.objects.filter(is_active=False).exclude(display_name__startswith=FORMER):
        left = AuditEvent.objects.filter(about=person, act="stop person").order_by("-at").first()
        if left is None or left.at >= begins or why_not(person):
            continue
        forget(person=person, by=None, reason=_("Left %(years)d years ago.") % {"years": years})
        count += 1
    return count
