"""Limits on trying: so many in so long, for each address and each visitor, counted in the database for all processes.

A try counts against whoever tries, never against what is tried for: nobody can lock somebody else's card or link.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
from dataclasses import dataclass

from django.contrib.sessions.backends.db import SessionStore
from django.db import IntegrityError, transaction
from django.db.models import F
from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import salted_hmac

from sugarbush.volunteers.models import Tries

KEPT_FOR = dt.timedelta(days=1)
SHARED = 20
"""An address that many share, because the web server in front does not say who asks, is given so many times as much."""


@dataclass(frozen=True, kw_only=True)
class Limit:
    """At most `most` tries within `within`, counted from the first of them. `name` keeps the limits apart."""

    name: str
    most: int
    within: dt.timedelta


def now() -> dt.datetime:
    """The clock of the limits. Tests set another."""
    return timezone.now()


def take(limit: Limit, who: str, *, times: int = 1) -> dt.timedelta | None:
    """Count one try of `who`. None: go on. Otherwise how long to wait; that try does not count.

    Each step is one statement, so of many tries at once no more than `most` pass, whatever the database.
    times: how many times the limit this one is given.
    """
    key, at, most = _key(limit, who), now(), limit.most * times
    row = Tries.objects.filter(key=key)
    for _again in range(2):
        if row.filter(ends_at__gt=at, spent__lt=most).update(spent=F("spent") + 1):
            return None
        if row.filter(ends_at__lte=at).update(spent=1, ends_at=at + limit.within):
            return None
        if not row.exists() and _begin(key, at + limit.within):
            return None
    ends_at = row.values_list("ends_at", flat=True).first() or at
    return max(ends_at - at, dt.timedelta(seconds=1))


def sweep() -> None:
    """Throw away counts and sessions that are over; visitors with wrong codes leave short ones behind."""
    Tries.objects.filter(ends_at__lt=now() - KEPT_FOR).delete()
    SessionStore.clear_expired()


def _begin(key: str, ends_at: dt.datetime) -> bool:
    """Make the row with its first try; False where another process was quicker."""
    try:
        with transaction.atomic():
            Tries.objects.create(key=key, spent=1, ends_at=ends_at)
    except IntegrityError:
        return False
    return True


def give_back(limit: Limit, who: str) -> None:
    """The try was no wrong one after all."""
    Tries.objects.filter(key=_key(limit, who), spent__gt=0).update(spent=F("spent") - 1)


def _key(limit: Limit, who: str) -> str:
    return salted_hmac(f"sugarbush.limit.{limit.name}", who, algorithm="sha256").hexdigest()


def address_of(request: HttpRequest) -> tuple[str, bool]:
    """The address that asks, an IPv6 one by its /64; and whether others may share it because it is the server's own.

    Which proxies are believed, parts.proxies says; it has put the asking address in its place before this.
    """
    told = request.META.get("REMOTE_ADDR", "")
    try:
        address = ipaddress.ip_address(told)
    except ValueError:
        return "unknown", True
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped is not None:
            return str(address.ipv4_mapped), False
        return str(ipaddress.IPv6Network((int(address), 64), strict=False)), address.is_loopback
    return str(address), address.is_loopback
