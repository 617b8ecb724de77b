"""Browsers that have come in before. They remember whom as by marks that mean nothing to anybody but this server.

A mark lets nobody in. It gives the browser an allowance of its own when it asks for a code, so that a stranger who asks
and asks for somebody's codes from anywhere cannot keep that person out of their own phone.
"""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import salted_hmac

from sugarbush.volunteers.models import Person

MOST_PEOPLE = 4
KEPT_FOR = dt.timedelta(days=400)


def cookie_name() -> str:
    return f"{settings.COOKIE_PREFIX}sugarbush_known"


def mark_of(person: Person | None) -> str:
    """A person's mark: signed out everywhere, they get another. For nobody the same work gives a mark nobody holds."""
    key, salt = (person.key, person.session_salt) if person is not None else ("nobody", "nobody")
    return salted_hmac("sugarbush.known", f"{key} {salt}", algorithm="sha256").hexdigest()[:32]


def marks(request: HttpRequest) -> list[str]:
    """The marks the browser brings. They are keyed hashes, so one that was made up fits nobody."""
    told = request.COOKIES.get(cookie_name(), "")
    return [mark for mark in told.split(".") if len(mark) == 32][:MOST_PEOPLE]


def remember(response: HttpResponse, request: HttpRequest, person: Person) -> HttpResponse:
    """Let the browser remember that this person came in on it; the latest few."""
    mark = mark_of(person)
    kept = [mark, *(other for other in marks(request) if other != mark)][:MOST_PEOPLE]
    response.set_cookie(
        cookie_name(),
        ".".join(kept),
        max_age=KEPT_FOR,
        path=settings.SESSION_COOKIE_PATH,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )
    return response
