"""Coming in without a password: a link that works once."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from django.contrib.auth.backends import BaseBackend
from django.db import transaction
from django.utils import timezone

from sugarbush.audit.models import record
from sugarbush.volunteers import people
from sugarbush.volunteers.models import Device, JoinedByCard, Person, SignInLink

GOOD_FOR = dt.timedelta(days=7)


class LinkBackend(BaseBackend):
    """Keeps a signed-in person signed in; nobody is ever let in by a typed secret."""

    def get_user(self, user_id: int) -> Person | None:
        return Person.objects.filter(pk=user_id, is_active=True).first()


def hash_of(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


@transaction.atomic
def make_link(*, person: Person, made_by: Person | None, good_for: dt.timedelta = GOOD_FOR) -> str:
    """Make a one-use link for a person and return its token; the token itself is not kept."""
    token = secrets.token_urlsafe(24)
    SignInLink.objects.create(
        person=person, token_hash=hash_of(token), made_by=made_by, expires_at=timezone.now() + good_for
    )
    record(by=made_by, act="make sign-in link", subject=person)
    return token


def link_for(token: str) -> SignInLink | None:
    """The link this token opens, if it is still good.

    It opens no longer than whoever made it might make another: a lead could otherwise keep one for somebody who by now
    holds more than the lead does.
    """
    link = (
        SignInLink.objects.select_related("person", "made_by")
        .filter(token_hash=hash_of(token), used_at=None, expires_at__gt=timezone.now(), person__is_active=True)
        .first()
    )
    if link is None or link.made_by is None or not people.why_not_manage(link.made_by, link.person):
        return link
    return None


@transaction.atomic
def use_link(token: str) -> Person | None:
    """Spend the token: the person it signs in, or None when it is spent, too old or unknown."""
    link = link_for(token)
    if link is None:
        return None
    # The filter on used_at makes the second of two presses lose, whichever database is below.
    spent = SignInLink.objects.filter(pk=link.pk, used_at=None).update(used_at=timezone.now())
    if not spent:
        return None
    record(by=link.person, act="sign in by link", subject=link.person)
    return link.person


@transaction.atomic
def end_sessions(*, person: Person, by: Person, reason: str = "") -> None:
    """End every session of a person, on every device."""
    from sugarbush.volunteers import codes
    from sugarbush.volunteers.models import new_salt

    person.session_salt = new_salt()
    person.save(update_fields=["session_salt"])
    SignInLink.objects.filter(person=person, used_at=None).update(used_at=timezone.now())
    codes.void(person)
    Device.objects.filter(person=person).delete()
    JoinedByCard.objects.filter(person=person).update(press_hash=None)  # the press that joined opens nothing any more
    record(by=by, act="end sessions", subject=person, reason=reason)
