"""Making a token, finding whose it is, taking it away.

256 random bits, kept as a SHA-256. It reads what its person may open now, within its scopes, and no more: it ends with
the person's last role, with its day, or when it is taken away.
"""

from __future__ import annotations

import datetime as dt
import secrets
from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.api.models import Token
from sugarbush.api.operations import SCOPES
from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.signing import hash_of

BEGINS = "sbt_"
"""So that a token is known as one wherever somebody pastes it by mistake."""
GOOD_FOR = dt.timedelta(days=400)
MOST = 10
TOLD_EVERY = dt.timedelta(minutes=10)
MEANS = gettext_lazy("tokens of your programs: what you call each, what it may read, when made, last used, taken away")


def live(person: Person) -> list[Token]:
    """The person's tokens that open something, the newest first."""
    return list(Token.objects.filter(person=person, withdrawn_at=None, good_until__gt=timezone.now()))


@transaction.atomic
def make(*, person: Person, name: str, scopes: Sequence[str]) -> tuple[Token, str]:
    """A new token; its secret is given here and never again. Raises Refused at ten."""
    Person.objects.select_for_update().get(pk=person.pk)
    if len(live(person)) >= MOST:
        fact = _("You have %(most)d tokens already.") % {"most": MOST}
        raise Refused([Reason(code="tokens", fact=fact, next_text=_("Take one away first."))])
    secret = BEGINS + secrets.token_urlsafe(32)
    chosen = [scope for scope in SCOPES if scope in scopes]
    token = Token.objects.create(
        person=person, name=name, scopes=chosen, token_hash=hash_of(secret), good_until=timezone.now() + GOOD_FOR
    )
    record(by=person, act="make token", subject=token, new={"scopes": chosen})
    return token, secret


@transaction.atomic
def withdraw(*, person: Person, pk: int) -> bool:
    """The token opens nothing any more. False where there was none, or not of this person."""
    token = Token.objects.select_for_update().filter(person=person, pk=pk, withdrawn_at=None).first()
    if token is None:
        return False
    token.withdrawn_at = timezone.now()
    token.save(update_fields=["withdrawn_at"])
    record(by=person, act="withdraw token", subject=token)
    return True


def close_all(person: Person) -> None:
    """No token of this person opens anything any more."""
    Token.objects.filter(person=person, withdrawn_at=None).update(withdrawn_at=timezone.now())


def token_for(secret: str) -> Token | None:
    """The live token with this secret, with its person. Of somebody who left or has no role today: None."""
    if not secret.startswith(BEGINS):
        return None
    now = timezone.now()
    rows = Token.objects.filter(token_hash=hash_of(secret), withdrawn_at=None, good_until__gt=now)
    token = rows.select_related("person").first()
    if token is None or not access.roles_of(token.person):
        return None
    if token.last_used_at is None or token.last_used_at < now - TOLD_EVERY:
        Token.objects.filter(pk=token.pk).update(last_used_at=now)
    return token


def forget(person: Person, _addresses: frozenset[str] = frozenset()) -> None:
    """The tokens go with the name."""
    Token.objects.filter(person=person).delete()


def own_rows(person: Person) -> list[dict[str, Any]]:
    """The person's tokens for the file of their own data; nothing in it opens anything."""
    rows = Token.objects.filter(person=person).order_by("pk")
    columns = ("name", "scopes", "made_at", "good_until", "last_used_at", "withdrawn_at")
    return [dict(zip(columns, row, strict=True)) for row in rows.values_list(*columns)]
