"""The calendar other programs subscribe to, the page that makes its address, and single events as files."""

from __future__ import annotations

import datetime as dt
import hashlib
import math

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import quote_etag
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.desk.calendar.events import events_of
from sugarbush.parts.ics import MEDIA_TYPE, calendar
from sugarbush.parts.qr import opens_only_here, printed_address
from sugarbush.volunteers import access, limits
from sugarbush.volunteers import calendar_links as links
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

AGAIN_AFTER_H = 4
# A token has 256 bits, so this is not against guessing; it keeps a guesser from keeping the server busy.
BY_ADDRESS = limits.Limit(name="calendar, address", most=30, within=dt.timedelta(minutes=10))
BY_LINK = limits.Limit(name="calendar, link", most=60, within=dt.timedelta(hours=1))


def plain(words: str, status: int, wait: dt.timedelta | None = None) -> HttpResponse:
    """A short answer for a program that asked for a calendar."""
    response = HttpResponse(words + "\n", content_type="text/plain; charset=utf-8", status=status)
    response["Cache-Control"] = "no-store"
    if wait is not None:
        response["Retry-After"] = str(math.ceil(wait.total_seconds()))
    return response


@sensitive_variables("token")
@require_safe
def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    """What a private address opens: one person's calendar. It changes nothing, and says whether it is still the same.

    The same 404 for an address nobody made, one taken away, and one of somebody who has left.
    """
    address, shared = limits.address_of(request)
    wait = limits.take(BY_ADDRESS, address, times=limits.SHARED if shared else 1)
    if wait is not None:
        return plain(_("Too many calendars were asked for. Try again later."), 429, wait)
    person = links.person_for(token)
    if person is None:
        return plain(_("There is no calendar at this address."), 404)
    limits.give_back(BY_ADDRESS, address)
    wait = limits.take(BY_LINK, str(person.pk))
    if wait is not None:
        return plain(_("This calendar was asked for too often. Try again later."), 429, wait)
    return answer(request, person_calendar(request, person))


def person_calendar(request: HttpRequest, person: Person) -> bytes:
    events = events_of(person, lambda path: printed_address(request, path))
    name = str(getattr(request, "programme", None) or _("Sugarbush"))
    return calendar(name, events, again_after_h=AGAIN_AFTER_H)


def answer(request: HttpRequest, body: bytes) -> HttpResponse:
    """The file, or 304 where the program has it already. Nobody between may keep it."""
    tag = quote_etag(hashlib.sha256(body).hexdigest()[:32])
    kept = [one.strip().removeprefix("W/") for one in request.headers.get("If-None-Match", "").split(",")]
    same = tag in kept
    response = HttpResponse(b"" if same else body, content_type=MEDIA_TYPE, status=304 if same else 200)
    response["ETag"] = tag
    response["Cache-Control"] = "private, max-age=0, must-revalidate"
    response["X-Robots-Tag"] = "noindex, nofollow"
    response["Referrer-Policy"] = "no-referrer"
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Disposition"] = 'inline; filename="sugarbush.ics"'
    return response


@sensitive_variables("address", "context")
@never_cache
@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def my_calendar(request: SignedInRequest) -> HttpResponse:
    """A person's own address: made by a press, shown again, replaced, taken away."""
    person = request.user
    if request.method == "POST":
        act = request.POST.get("act", "")
        if act == "withdraw":
            links.withdraw(person=person)
            messages.success(request, _("The address opens nothing any more. Take it out of your calendar too."))
        elif act in {"make", "anew"}:
            links.make(person=person, anew=act == "anew")
            messages.success(
                request,
                _("There is a new address. The old one opens nothing any more.")
                if act == "anew"
                else _("Your calendar has an address."),
            )
        return redirect("my-calendar")
    link = links.link_of(person)
    works = link is not None and links.opens(link)
    address = printed_address(request, reverse("calendar-feed", args=[links.token_of(link)])) if link and works else ""
    context = {
        "link": link,
        "works": works,
        "address": address,
        "subscribe": "webcal://" + address.partition("://")[2] if address else "",
        "only_here": bool(address) and opens_only_here(address),
        "desk": access.holds(person, "permission.decide"),
    }
    return render(request, "desk/my_calendar.html", context)
