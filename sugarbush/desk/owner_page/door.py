"""The way into an owner's page: a token is exchanged at once for a short pass of its own.

The pass is a signed cookie for these pages only. It is no sign-in: nobody becomes a person by it, and it asks at each
page whether the link still opens.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from functools import wraps

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_POST, require_safe

from sugarbush.owners import links
from sugarbush.owners.models import OwnerLink
from sugarbush.volunteers import limits

# Its path is the owner’s pages alone, so it cannot have the prefix for a whole host.
COOKIE = f"{'__Secure-' if settings.SECURE else ''}sugarbush_owner"
SALT = "sugarbush.owner.page"
VISIT = dt.timedelta(hours=2)
# A token has 192 bits, so this is not against guessing; it keeps a guesser from keeping the server busy.
BY_ADDRESS = limits.Limit(name="owner link, address", most=30, within=dt.timedelta(minutes=10))


def unseen(response: HttpResponse, referrer: str = "same-origin") -> HttpResponse:
    """Kept by nobody and listed by nobody."""
    response["X-Robots-Tag"] = "noindex, nofollow"
    response["Referrer-Policy"] = referrer
    return response


@sensitive_variables("token")
@never_cache
@require_safe
def owner_link(request: HttpRequest, token: str) -> HttpResponse:
    """What the private link opens. It changes nothing: programs that look at mail open links too."""
    address, shared = limits.address_of(request)
    wait = limits.take(BY_ADDRESS, address, times=limits.SHARED if shared else 1)
    if wait is not None:
        return _closed(request, status=429, wait=wait)
    link = links.link_for(token)
    if link is None:
        return _closed(request, status=404)
    limits.give_back(BY_ADDRESS, address)
    response = redirect("my-tree")
    response.set_signed_cookie(
        COOKIE,
        str(link.pk),
        salt=SALT,
        max_age=int(VISIT.total_seconds()),
        path=reverse("my-tree"),
        secure=settings.SECURE,
        httponly=True,
        samesite="Lax",
    )
    return unseen(response, "no-referrer")


def _closed(request: HttpRequest, *, status: int, wait: dt.timedelta | None = None) -> HttpResponse:
    """The same calm page for every link that does not open, whatever the cause."""
    said = ""
    if wait is not None:
        minutes = math.ceil(wait.total_seconds() / 60)
        said = ngettext("Try again in %(n)d minute.", "Try again in %(n)d minutes.", minutes) % {"n": minutes}
    response = render(request, "desk/owner/closed.html", {"said": said}, status=status)
    if wait is not None:
        response["Retry-After"] = str(math.ceil(wait.total_seconds()))
    return unseen(response, "no-referrer")


def link_of(request: HttpRequest) -> OwnerLink | None:
    """The link by which this visitor came in, while it opens and the visit is short."""
    value = request.get_signed_cookie(COOKIE, default=None, salt=SALT, max_age=VISIT)
    return links.open_link(int(value)) if value and value.isdecimal() else None


def by_link(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Only with the pass of a link that still opens; the view is given the link."""

    @never_cache
    @wraps(view)
    def guarded(request: HttpRequest, *args: object, **named: object) -> HttpResponse:
        link = link_of(request)
        if link is None:
            response = render(request, "desk/owner/closed.html", {"over": True}, status=403)
            response.delete_cookie(COOKIE, path=reverse("my-tree"))
            return unseen(response)
        return unseen(view(request, link, *args, **named))

    return guarded


@never_cache
@require_POST
def my_tree_leave(request: HttpRequest) -> HttpResponse:
    """Close the page on this device."""
    said = _("Your page is closed on this device. Your link opens it again.")
    response = render(request, "desk/owner/closed.html", {"left": said})
    response.delete_cookie(COOKIE, path=reverse("my-tree"))
    return unseen(response)
